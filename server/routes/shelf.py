"""The shelf: printers, spools, customers."""

from fastapi import Request
from fastapi.responses import Response
from sqlmodel import Session, SQLModel, col, select

from server.access import get_or_404
from server.database import SessionDep
from server.formpage import FormPage, MaybeSent, show_form
from server.forms.record import RecordForm, offer
from server.forms.shelf import CustomerForm, PrinterForm, SpoolForm
from server.links import address
from server.pages import go, show
from server.records import Customer, OwnMaterial, Printer, Spool


def shelf(request: Request, session: SessionDep) -> Response:
    context = {
        "title": "Shelf",
        "printers": session.exec(select(Printer).order_by(Printer.name)).all(),
        "spools": session.exec(select(Spool).order_by(Spool.material, col(Spool.id).desc())).all(),
        "customers": session.exec(select(Customer).order_by(Customer.name)).all(),
    }
    return show(request, "shelf/shelf.html", context)


def printer_new(request: Request, session: SessionDep, sent: MaybeSent) -> Response:
    return _keep(request, session, PrinterForm(sent), Printer(name=""), "New printer")


def printer_edit(request: Request, session: SessionDep, printer_id: int, sent: MaybeSent) -> Response:
    printer = get_or_404(session, Printer, printer_id)
    return _keep(request, session, PrinterForm(sent, obj=printer), printer, f"Edit {printer.name}")


def spool_new(request: Request, session: SessionDep, sent: MaybeSent) -> Response:
    return _keep(request, session, _spool_form(session, SpoolForm(sent)), Spool(material=""), "New spool")


def spool_edit(request: Request, session: SessionDep, spool_id: int, sent: MaybeSent) -> Response:
    spool = get_or_404(session, Spool, spool_id)
    form = _spool_form(session, SpoolForm(sent, obj=spool))
    return _keep(request, session, form, spool, f"Edit the spool of {spool.material}")


def _spool_form(session: Session, form: SpoolForm) -> SpoolForm:
    own = session.exec(select(OwnMaterial).order_by(OwnMaterial.name)).all()
    offer(form.own_material_id, "none", ((one.id, one.name) for one in own))
    return form


def customer_new(request: Request, session: SessionDep, sent: MaybeSent) -> Response:
    return _keep(request, session, CustomerForm(sent), Customer(name=""), "New customer")


def customer_edit(request: Request, session: SessionDep, customer_id: int, sent: MaybeSent) -> Response:
    customer = get_or_404(session, Customer, customer_id)
    return _keep(request, session, CustomerForm(sent, obj=customer), customer, f"Edit {customer.name}")


def _keep(request: Request, session: Session, form: RecordForm, record: SQLModel, title: str) -> Response:
    back = address(request, "shelf")
    if request.method != "POST" or not form.validate():
        return show_form(request, FormPage(title, back, (("Shelf", back),)), form)
    form.populate_obj(record)
    session.add(record)
    session.commit()
    return go(request, "shelf")
