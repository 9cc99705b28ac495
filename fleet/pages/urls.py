"""Addresses of the pages."""

from django.contrib.auth.views import LogoutView
from django.urls import path

from fleet.pages import (
    day,
    desk,
    fit,
    garage,
    gate,
    home,
    public,
    sign_in,
    stint,
    ticket,
    tire,
    trailer,
    weather,
)

urlpatterns = [
    path("", home.home, name="home"),
    path("sign-in/", sign_in.SignIn.as_view(), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("units/", sign_in.units, name="units"),
    path("health/live", home.live, name="live"),
    path("health/ready", home.ready, name="ready"),
    path("trailer/", trailer.trailer, name="trailer"),
    path("trailer/riders/", trailer.find, name="find"),
    path("trailer/take-in/", trailer.take_in, name="take-in"),
    path("trailer/tickets/<uuid:pk>/", ticket.ticket, name="ticket"),
    path("trailer/tickets/<uuid:pk>/state/", ticket.move, name="move-ticket"),
    path("trailer/tickets/<uuid:pk>/slip/", ticket.slip, name="slip"),
    path("trailer/tickets/<uuid:pk>/fit/<str:axle>/", fit.fit, name="fit"),
    path("garage/", garage.garage, name="garage"),
    path("garage/flags/<uuid:pk>/seen/", garage.seen, name="flag-seen"),
    path("garage/wheels/<uuid:pk>/stint/", stint.stint, name="stint"),
    path("garage/tires/<uuid:pk>/", tire.tire, name="tire"),
    path("desk/", desk.desk, name="desk"),
    path("desk/days/<uuid:pk>/", day.day, name="day"),
    path("desk/days/<uuid:pk>/weather/", weather.weather, name="weather"),
    path("desk/days/<uuid:pk>/metar/", weather.metar, name="metar"),
    path("desk/days/<uuid:pk>/draft/", day.draft, name="draft"),
    path("desk/days/<uuid:pk>/issue/", day.issue, name="issue"),
    path("desk/days/<uuid:pk>/bulletins/<int:number>/withdraw/", day.withdraw, name="withdraw"),
    path("desk/days/<uuid:pk>/gate/", gate.gate, name="gate"),
    path("desk/days/<uuid:pk>/tires/<uuid:tire>/hold/", gate.hold, name="place-hold"),
    path("desk/days/<uuid:pk>/holds/<uuid:hold>/lift/", gate.lift, name="lift-hold"),
    path("b/<str:public_code>/", public.bulletin, name="bulletin"),
    path("b/<str:public_code>/board/", public.board, name="board"),
]
