"""The files for a real server: they parse, they agree with the code, and Django's own check finds nothing."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
import yaml
from django.conf import settings

ROOT = Path(settings.BASE_DIR)
COMPOSE = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
# Read by the shell or the proxy, not by the program.
ELSEWHERE = {"TOPFORM_SITE", "TOPFORM_WEBS", "TOPFORM_PROCESSES", "TOPFORM_THREADS"}


def names_in(text: str) -> set[str]:
    return set(re.findall(r"\bTOPFORM_[A-Z_]*[A-Z]\b", text))


def names_in_code() -> set[str]:
    files = [
        ROOT / "manage.py",
        *(path for app in ("studio", "tunes", "drills", "assessments", "api") for path in (ROOT / app).rglob("*.py")),
    ]
    return {name for path in files for name in names_in(path.read_text())}


@pytest.mark.parametrize("name", ["README.md", "docker-compose.yml", "Dockerfile", "docker/entry"])
def test_every_setting_that_is_named_exists(name: str) -> None:
    known = names_in_code() | ELSEWHERE
    assert {
        setting for setting in names_in((ROOT / name).read_text()) if setting.removesuffix("_FILE") not in known
    } == set()


def test_every_setting_of_the_code_is_in_the_readme() -> None:
    text = (ROOT / "README.md").read_text()
    short = {
        f"TOPFORM_{group}{part}"
        for group, parts in (
            ("DB", ("_PORT", "_NAME", "_USER", "_PASSWORD", "_SSLMODE", "_POOL")),
            ("BACKUP", ("_WEEKS", "_MONTHS", "_S3_REGION", "_S3_KEY", "_S3_SECRET")),
            ("OIDC", ("_CLIENT", "_SECRET", "_NAME", "_SCOPES", "_DOMAINS", "_ROSTER_CLAIM")),
            ("MAIL", ("_PORT", "_USER", "_PASSWORD", "_TLS", "_FROM")),
        )
        for part in parts
    }
    hidden = {
        "TOPFORM_DEBUG",
        "TOPFORM_VENV",
        "TOPFORM_NO_VENV",
        "TOPFORM_WEB_SOCKET",
    }  # for developers, the image, between our own processes
    named = {name.removesuffix("_FILE") for name in names_in_code()}
    assert named - names_in(text) - short - hidden == set()


def test_the_services() -> None:
    assert set(COMPOSE["services"]) == {"db", "prepare", "web", "web2", "worker", "worker2", "proxy"}
    for name in ("prepare", "web", "web2", "worker", "worker2"):
        service = COMPOSE["services"][name]
        assert service["environment"]["TOPFORM_SECRET_KEY_FILE"] == "/run/secrets/secret_key"
        assert "ports" not in service  # only the proxy faces the network
        assert service["cap_drop"] == ["ALL"]
    for name in ("web", "worker"):  # the second of each differs by its profile alone
        assert COMPOSE["services"][f"{name}2"] == COMPOSE["services"][name] | {"profiles": ["two"]}
    used = {secret for service in COMPOSE["services"].values() for secret in service.get("secrets", [])}
    assert used == set(COMPOSE["secrets"])


def test_secrets_are_made_once(tmp_path: Path) -> None:
    (tmp_path / "docker").mkdir()
    script = tmp_path / "docker" / "make-secrets"
    script.write_text((ROOT / "docker" / "make-secrets").read_text())
    for _ in range(2):
        subprocess.run(["sh", str(script)], check=True, stdout=subprocess.DEVNULL)
        kept = (tmp_path / "secrets" / "secret_key").read_text()
    assert len(kept) == 64
    assert (tmp_path / "secrets" / "secret_key").read_text() == kept
    assert (tmp_path / "secrets").stat().st_mode & 0o077 == 0


def test_shell_scripts_parse() -> None:
    for name in ("docker/entry", "docker/make-secrets", ".ci/run"):
        subprocess.run(["sh", "-n", str(ROOT / name)], check=True)


def test_django_finds_nothing_unsafe_in_the_server_settings(tmp_path: Path) -> None:
    server = {
        "TOPFORM_DATA": str(tmp_path),
        "TOPFORM_SECRET_KEY": "k" * 30 + "0123456789abcdefghijklmnop",
        "TOPFORM_HTTPS": "1",
        "TOPFORM_PROXIES": "1",
        "TOPFORM_HOSTS": "jazz.school.example",
        "TOPFORM_HSTS_WIDE": "1",
    }
    clean = {key: value for key, value in os.environ.items() if not key.startswith(("TOPFORM_", "DJANGO_"))}
    done = subprocess.run(
        [sys.executable, "manage.py", "check", "--deploy", "--fail-level", "WARNING"],
        cwd=ROOT,
        env=clean | server,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr


def test_locks_pin_hashes_and_name_no_index() -> None:
    for name in ("requirements.txt", "requirements-s3.txt", "requirements-hearing.txt", "requirements-dev.txt"):
        text = (ROOT / name).read_text()
        pins = re.findall(r"^([a-z0-9][\w.\-\[\],]*)==\S+ \\$", text, re.MULTILINE)
        assert len(pins) > 20
        assert text.count("--hash=sha256:") >= len(pins)
        assert not re.search(r"https?://|--index|--find-links|--extra", text)


def test_the_rehearsal_of_the_container_says_why_it_is_not_tried(tmp_path: Path) -> None:
    """Where it can be tried it takes minutes: `docker/rehearse.py` itself. Here: an empty folder is no system."""
    done = subprocess.run(
        [sys.executable, str(ROOT / "docker/rehearse.py"), str(tmp_path)], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout[:11]) == (77, "Not tried: "), done.stderr
