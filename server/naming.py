"""What a person calls a record, the same on every page."""

from server.pages import day
from server.records import Build, Failure, Printer, Revision, Service, Spool


def revision_name(revision: Revision) -> str:
    """Return "revision 2"; the replaced part is called the original."""
    return f"revision {revision.number}" + (" (the original)" if revision.is_original else "")


def build_name(build: Build) -> str:
    """Return "build 7 of 3 Mar 2026"; the number is the record's own and stays."""
    return f"build {build.id}" + (f" of {day(build.built_on)}" if build.built_on else ", date not known")


def service_name(service: Service) -> str:
    """Return when the build was fitted and removed."""
    return f"fitted {day(service.fitted_on)}" + (f", removed {day(service.removed_on)}" if service.removed_on else "")


def failure_name(failure: Failure) -> str:
    """Return the failure by its case label, or by the record's own number."""
    return f"Failure {failure.case_label or failure.id}"


def printer_name(printer: Printer) -> str:
    """Return the printer's name with what tells it apart."""
    return printer.name + (" (enclosed)" if printer.enclosed else "")


def spool_name(spool: Spool) -> str:
    """Return material, colour and lot of a spool."""
    return " · ".join(text for text in (spool.material, spool.colour, spool.lot and f"lot {spool.lot}") if text)


def upper_first(text: str) -> str:
    """Return `text` with a capital at its start, the rest as it is."""
    return text[:1].upper() + text[1:]
