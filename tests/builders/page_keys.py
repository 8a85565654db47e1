"""The farm's CA with a certificate of the page, and a phone whose browser trusts that CA."""

from __future__ import annotations

import shutil
import subprocess
from datetime import UTC, datetime
from pathlib import Path

import pytest

from monitor.boards import certificates
from monitor.page.server import Encrypted
from monitor.service.page_setup import CERTIFICATE, KEY, certificate_files
from monitor.settings.writing import write_all

NAMES = ("farm.test", "localhost", "127.0.0.1")


def make_page_keys(folder: Path) -> None:
    """The files that `page setup --way https` makes."""
    now = datetime.now(UTC)
    planned = certificates.planned(folder, "farm", (), now)
    write_all([*planned.files, *certificate_files(folder, planned.authority, NAMES, now)])


def encrypted(folder: Path, port: int = 0) -> Encrypted:
    """How the page is served with them."""
    return Encrypted(port, folder / CERTIFICATE, folder / KEY)


def trusting_home(home: Path, keys: Path) -> Path:
    """A home folder whose browser has the CA in its store, as after the steps on a phone."""
    certutil = shutil.which("certutil")
    if certutil is None:
        pytest.skip("certutil is not installed (Debian package libnss3-tools)")
    store = home / ".pki" / "nssdb"
    store.mkdir(parents=True)
    base = [certutil, "-d", f"sql:{store}"]
    subprocess.run([*base, "-N", "--empty-password"], check=True)
    subprocess.run([*base, "-A", "-t", "C,,", "-n", "farm", "-i", str(keys / certificates.CA)], check=True)
    return home
