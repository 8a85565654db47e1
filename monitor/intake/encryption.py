"""TLS for the connection to the broker."""

from __future__ import annotations

import ssl

from monitor.errors import IntakeError
from monitor.settings.schema import BrokerSettings


class _ClosingSocket(ssl.SSLSocket):
    """Closes itself when the handshake fails; paho leaves that to the garbage collector."""

    def do_handshake(self, block: bool = False) -> None:
        """The handshake, with the socket closed behind a failed one."""
        try:
            super().do_handshake(block)
        except OSError:
            self.close()
            raise


def tls_context(broker: BrokerSettings) -> ssl.SSLContext:
    """What to trust, and our own certificate if the broker wants one; IntakeError names a bad file."""
    try:
        context = ssl.create_default_context(cafile=str(broker.ca_file) if broker.ca_file else None)
    except (OSError, ssl.SSLError) as error:
        raise IntakeError(f"[broker] ca_file {broker.ca_file} cannot be used: {error}") from error
    context.sslsocket_class = _ClosingSocket
    if broker.client_certificate is not None:
        try:
            context.load_cert_chain(broker.client_certificate, broker.client_key)
        except (OSError, ssl.SSLError) as error:
            raise IntakeError(
                f"[broker] client_certificate {broker.client_certificate} and client_key "
                f"{broker.client_key} cannot be used: {error}"
            ) from error
    return context
