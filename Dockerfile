# One image for web, worker and maintenance; see docker-compose.yml.
FROM python:3.11-slim-trixie

ENV PYTHONDONTWRITEBYTECODE=1 PYTHONUNBUFFERED=1 \
    TOPFORM_NO_VENV=1 TOPFORM_DATA=/data TOPFORM_STATIC=/srv/static

# pg_dump and pg_restore for backups; a plain font for printed sheets.
RUN apt-get update \
 && apt-get install -y --no-install-recommends postgresql-client fonts-dejavu-core \
 && rm -rf /var/lib/apt/lists/*

WORKDIR /srv/topform
COPY requirements-s3.txt requirements-hearing.txt ./
RUN pip install --no-cache-dir --disable-pip-version-check --require-hashes -r requirements-s3.txt \
 && pip install --no-cache-dir --disable-pip-version-check --require-hashes -r requirements-hearing.txt
COPY . .

RUN useradd --system --uid 10001 --home-dir /data topform \
 && mkdir -p /data /srv/static \
 && TOPFORM_SECRET_KEY=only-while-building-the-image python manage.py collectstatic --noinput -v0 \
 && chown -R topform /data
USER topform
VOLUME /data
EXPOSE 8000
HEALTHCHECK --interval=15s --timeout=5s --start-period=20s \
  CMD ["python", "-c", "import urllib.request as u; u.urlopen('http://localhost:8000/livez', timeout=4)"]
ENTRYPOINT ["/srv/topform/docker/entry"]
CMD ["web"]
