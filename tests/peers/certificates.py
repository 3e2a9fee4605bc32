"""Certificates by the openssl command, in PEM: an authority of one's own and its servers."""

import subprocess
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Pair:
    """Certificate and private key of one server."""

    cert: Path
    key: Path


class Authority:
    """A certificate authority whose files lie in `folder`.

    Parameters
    ----------
    program : str
        Path of openssl.
    folder : Path

    Attributes
    ----------
    file : Path
        Its own certificate: what a client is given as ``ca=``.
    """

    def __init__(self, program: str, folder: Path) -> None:
        self._program = program
        self._folder = folder
        self.file = folder / "ca.pem"
        self._openssl(
            *("req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"),
            *("-keyout", "ca.key", "-out", "ca.pem", "-subj", f"/CN=test {folder.name}"),
            *("-addext", "basicConstraints=critical,CA:TRUE"),
            *("-addext", "keyUsage=critical,keyCertSign,cRLSign"),
        )

    def server(self, name: str, alternative: str, days: tuple[str, str] | None = None) -> Pair:
        """Return a new certificate for a server.

        Parameters
        ----------
        name : str
        alternative : str
            Subject alternative name, such as "IP:127.0.0.1".
        days : (str, str), optional
            Not before and not after, as YYMMDDHHMMSSZ; from now for two days otherwise.
        """
        folder = self._folder
        self._openssl(
            *("req", "-newkey", "rsa:2048", "-nodes", "-keyout", f"{name}.key"),
            *("-out", f"{name}.csr", "-subj", f"/CN={name}"),
        )
        (folder / "ca.cnf").write_text(
            "[ca]\ndefault_ca=own\n[own]\nnew_certs_dir=.\ndatabase=index\nserial=serial\n"
            "default_md=sha256\npolicy=any\nunique_subject=no\n[any]\ncommonName=supplied\n"
            f"[ext]\nsubjectAltName={alternative}\nbasicConstraints=CA:FALSE\n"
            "authorityKeyIdentifier=keyid\n"
        )
        (folder / "index").write_text("")
        (folder / "serial").write_text("01\n")
        span = ("-days", "2") if days is None else ("-startdate", days[0], "-enddate", days[1])
        self._openssl(
            *("ca", "-batch", "-config", "ca.cnf", "-extensions", "ext", "-notext"),
            *("-cert", "ca.pem", "-keyfile", "ca.key", "-in", f"{name}.csr"),
            *("-out", f"{name}.pem", *span),
        )
        return Pair(folder / f"{name}.pem", folder / f"{name}.key")

    def broker_config(self, server: Pair, more: str = "") -> str:
        """Return a broker's configuration for connections with the certificate of `server`."""
        return (
            f"allow_anonymous true\ncafile {self.file}\ncertfile {server.cert}\n"
            f"keyfile {server.key}\n{more}"
        )

    def _openssl(self, *words: str) -> None:
        subprocess.run([self._program, *words], cwd=self._folder, check=True, capture_output=True)


@dataclass(frozen=True)
class Certificates:
    """An authority with a server certificate for localhost and 127.0.0.1, and another authority."""

    authority: Authority
    server: Pair
    other: Authority

    def config(self, more: str = "") -> str:
        """Return a broker's configuration for TLS."""
        return self.authority.broker_config(self.server, more)
