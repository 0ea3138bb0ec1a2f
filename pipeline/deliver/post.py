"""Post: a letter is handed to the mail server; what the server says against it becomes a sentence."""

from email.message import EmailMessage
from pathlib import Path
from smtplib import SMTP, SMTP_SSL, SMTPException, SMTPRecipientsRefused
from ssl import create_default_context

from pipeline.config.mail import Mail
from pipeline.errors import StillwellError

_SECONDS = 60.0


class UndeliveredError(StillwellError):
    """A letter could not be sent; everything else was done."""

    exit_status = 3


def send(message: EmailMessage, mail: Mail, folder: Path) -> list[str]:
    """Hand a letter to the mail server; return the addresses that it does not take it for.

    Parameters
    ----------
    message : EmailMessage
    mail : Mail
    folder : Path
        The plant's; the password's file lies beneath it.

    Raises
    ------
    UndeliveredError
        The server cannot be reached, does not let us in, or takes the letter for nobody.
    """
    where = f"mail server {mail.server}:{mail.at_port}"
    try:
        password = _password(mail, folder)
        with _connected(mail) as server:
            if mail.user:
                server.login(mail.user, password)
            return list(server.send_message(message))
    except (OSError, SMTPException) as error:
        raise UndeliveredError(f"{where}: {_said(error)}; see [mail] in config/plant.toml") from error


def _connected(mail: Mail) -> SMTP:
    if mail.security == "tls":
        return SMTP_SSL(mail.server, mail.at_port, timeout=_SECONDS, context=create_default_context())
    server = SMTP(mail.server, mail.at_port, timeout=_SECONDS)
    if mail.security == "starttls":
        try:
            server.starttls(context=create_default_context())
        except BaseException:
            server.close()
            raise
    return server


def _password(mail: Mail, folder: Path) -> str:
    return (folder / mail.password_file).read_text(encoding="utf-8").strip() if mail.password_file else ""


def _said(error: Exception) -> str:
    if isinstance(error, SMTPRecipientsRefused):
        return f"it takes letters for none of {', '.join(error.recipients)}"
    if isinstance(error, OSError) and error.filename:
        return f"{error.filename}: {error.strerror}"
    if code := getattr(error, "smtp_code", None):
        return f"it answered {code} {getattr(error, 'smtp_error', b'').decode(errors='replace')}"
    return str(error) or type(error).__name__
