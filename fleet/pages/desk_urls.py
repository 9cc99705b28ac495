"""Addresses of the event desk where an event is set up."""

from django.urls import path

from fleet.pages import (
    after_day,
    bulletin_history,
    day_parts,
    event,
    forecast,
    gate_list,
    inspecting,
    line_by_hand,
    plan_event,
    roster,
    roster_list,
    timetable,
)

urlpatterns = [
    path("events/plan/", plan_event.plan, name="plan-event"),
    path("events/<uuid:pk>/", event.event, name="event"),
    path("events/<uuid:pk>/days/", event.add_event_day, name="add-day"),
    path("events/<uuid:pk>/groups/", event.add_event_group, name="add-group"),
    path("events/<uuid:pk>/groups/<uuid:group>/", event.mend_group, name="mend-group"),
    path("days/<uuid:pk>/timetable/", timetable.timetable, name="timetable"),
    path("days/<uuid:pk>/after/", after_day.after_day, name="after-day"),
    path("days/<uuid:pk>/after.pdf", after_day.after_day_pdf, name="after-day-pdf"),
    path("days/<uuid:pk>/bulletins/", bulletin_history.bulletin_history, name="bulletin-history"),
    path("days/<uuid:pk>/lines/<uuid:line>/", line_by_hand.line_by_hand, name="line-by-hand"),
    path("days/<uuid:pk>/lines/<uuid:line>/computed/", line_by_hand.as_computed, name="as-computed"),
    path("days/<uuid:pk>/gate/inspect/", inspecting.inspect, name="inspect"),
    path("days/<uuid:pk>/inspections/<uuid:inspection>/void/", inspecting.take_back, name="void-inspection"),
    path("days/<uuid:pk>/gate/list/", gate_list.gate_list, name="gate-list"),
    path("days/<uuid:pk>/parts/", day_parts.day_parts, name="day-parts"),
    path("days/<uuid:pk>/forecast/", forecast.forecast, name="forecast"),
    path("days/<uuid:pk>/roster/", roster.roster, name="roster"),
    path("days/<uuid:pk>/roster/walk-in/", roster.walk_in, name="walk-in"),
    path("days/<uuid:pk>/roster/list/", roster_list.send_roster, name="send-roster"),
    path("days/<uuid:pk>/roster/list/<uuid:upload>/", roster_list.roster_list, name="roster-list"),
    path("days/<uuid:pk>/roster/<uuid:entry>/", roster.entry, name="entry"),
    path("days/<uuid:pk>/roster/<uuid:entry>/off/", roster.take_off, name="take-off"),
]
