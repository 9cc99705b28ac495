"""Refusals about tires, stock and fittings."""

from fleet.errors import Conflict, Invalid


class WrongAxle(Invalid):
    """A tire for one end of the bike put on the other."""

    code = "wrong-axle"


class TireOnHold(Conflict):
    """A tire that must not be used."""

    code = "tire-on-hold"


class Recalled(Conflict):
    """A tire or a lot that a recall notice in force touches."""

    code = "recalled"


class RecallLifted(Conflict):
    """A recall notice that was lifted before."""

    code = "recall-lifted"


class FittedBeforeMade(Invalid):
    """A fitting dated before the tire was made."""

    code = "fitted-before-made"


class NotTheOwner(Conflict):
    """A tire of one rider on the wheels of another."""

    code = "not-the-owner"


class HandedOver(Conflict):
    """A tire that changed hands since."""

    code = "handed-over"


class InUse(Conflict):
    """A tire that is on a wheel, or about to be."""

    code = "in-use"


class NotFitted(Conflict):
    """A tire that is on no wheel at that time."""

    code = "not-fitted"


class HoldLifted(Conflict):
    """A hold that was lifted before."""

    code = "hold-lifted"


class FittedSince(Conflict):
    """A fitting voided although its tire was fitted again later."""

    code = "fitted-since"


class BackInStock(Conflict):
    """A tire whose only way out of stock was voided."""

    code = "back-in-stock"


class Scrapped(Conflict):
    """A tire that was removed to be scrapped."""

    code = "scrapped"


class TicketMoved(Conflict):
    """A job ticket that somebody else moved in the meantime."""

    code = "ticket-moved"


class WheelsInAlready(Conflict):
    """Wheels taken in a second time before they were collected."""

    code = "wheels-in-already"


class Reserved(Conflict):
    """Tires that are kept for riders, sold or fitted to somebody else."""

    code = "reserved"


class TooFewLeft(Conflict):
    """More tires reserved than a vendor can still sell."""

    code = "too-few-left"


class NotOffered(Invalid):
    """A tire reserved at a vendor that does not sell it."""

    code = "not-offered"


class ReservationOver(Conflict):
    """A reservation that was taken or ended before."""

    code = "reservation-over"
