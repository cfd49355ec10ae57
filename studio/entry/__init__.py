"""How people come in: second factors, how long a sign-in lasts, the list of one's sign-ins, the school's own sign-in."""
