"""A private PostgreSQL in a temporary folder, reached by a socket in it; each test gets a database of its own, copied from a prepared one."""

import os
import pwd
import shutil
import subprocess
import tempfile
from pathlib import Path
from uuid import uuid4

from server.settings import Settings

GUARDED = "keeper"  # a role that needs its password; every other is trusted
SPEED = "-c fsync=off -c full_page_writes=off -c max_connections=200 -c shared_buffers=32MB"


def binary(name: str) -> str:
    """A program of the newest PostgreSQL here: on the path, or where Debian puts it. Raises RuntimeError."""
    found = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=lambda p: int(p.parts[-3]))
    at = str(found[-1]) if found else shutil.which(name)
    if not at:
        raise RuntimeError(f"{name} is missing; tests/run installs PostgreSQL")
    return at


class Cluster:
    """A running server. It refuses to run as root, so that root hands it to the system's user postgres."""

    def __init__(self):
        self.folder = Path(tempfile.mkdtemp(prefix="isokom-pg-", dir="/tmp"))
        self.user = pwd.getpwnam("postgres" if os.getuid() == 0 else pwd.getpwuid(os.getuid()).pw_name)
        if os.getuid() == 0:
            os.chown(self.folder, self.user.pw_uid, self.user.pw_gid)
        self._run("initdb", "-D", self.data, "-U", "isokom", "-A", "trust", "--no-locale", "-E", "UTF8", "--no-sync")
        hba = Path(self.data) / "pg_hba.conf"
        hba.write_text(f"local all {GUARDED} scram-sha-256\n{hba.read_text()}")
        self.start()

    @property
    def data(self) -> str:
        return str(self.folder / "data")

    def _run(self, name: str, *words: str) -> None:
        command = [binary(name), *words]
        as_other = {"user": self.user.pw_uid, "group": self.user.pw_gid, "extra_groups": []} if os.getuid() == 0 else {}
        with (self.folder / f"{name}.out").open("ab") as out:
            subprocess.run(command, check=True, stdout=out, stderr=out, stdin=subprocess.DEVNULL, cwd=self.folder, env={"PATH": os.environ["PATH"], "LC_ALL": "C"}, **as_other)

    def start(self) -> None:
        self._run("pg_ctl", "-D", self.data, "-w", "-l", str(self.folder / "log"), "-o", f"-k {self.folder} -c listen_addresses= {SPEED}", "start")

    def stop(self) -> None:
        """At once, as when the machine goes away."""
        self._run("pg_ctl", "-D", self.data, "-m", "immediate", "-w", "stop")

    def url(self, database: str) -> str:
        return f"postgresql://isokom@/{database}?host={self.folder}"

    def sql(self, command: str, database: str = "postgres") -> str:
        """What psql answers, bare."""
        words = [binary("psql"), "-h", str(self.folder), "-U", "isokom", "-d", database, "-AtXq", "-v", "ON_ERROR_STOP=1", "-c", command]
        return subprocess.run(words, check=True, capture_output=True, text=True).stdout.strip()

    def empty(self) -> str:
        """Address of a new, empty database."""
        name = f"t{uuid4().hex}"
        self.sql(f"CREATE DATABASE {name} TEMPLATE template0")
        return self.url(name)

    def book(self) -> str:
        """Address of a new bench book at this version's schema."""
        if not self.sql("SELECT 1 FROM pg_database WHERE datname = 'ready'"):
            from server.app import open_store

            self.sql("CREATE DATABASE ready TEMPLATE template0")
            open_store(Settings(database_url=self.url("ready"))).close()
        name = f"t{uuid4().hex}"
        self.sql(f"CREATE DATABASE {name} TEMPLATE ready")
        return self.url(name)

    def remove(self) -> None:
        self.stop()
        shutil.rmtree(self.folder)
