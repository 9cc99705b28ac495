"""All template filters and drawings of tire tests as one library."""

from django import template

from fleet.pages.trials import drawings, figures, stance

register = template.Library()
for library in (drawings.register, figures.register, stance.register):
    register.filters |= library.filters
    register.tags |= library.tags
