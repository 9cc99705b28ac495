"""What can be bought: lines, specs, published pressures. Shared, and read only here."""

from django.db.models import QuerySet
from rest_framework import serializers

from api import scopes
from api.filters import Filters, by_id, filters
from api.views import Listed
from fleet.catalogue.models import Axle, PressureSpec, TireLine, TireSpec


class LineOut(serializers.ModelSerializer[TireLine]):
    """A maker's family of tires."""

    class Meta:
        model = TireLine
        fields = ["id", "maker", "name", "category", "carcass"]


class PressureSpecOut(serializers.ModelSerializer[PressureSpec]):
    """A published pressure of a spec, or of one axle of a whole line."""

    class Meta:
        model = PressureSpec
        fields = [
            "id",
            "line",
            "spec",
            "axle",
            "basis",
            "use",
            "pressure_kpa",
            "reference_c",
            "published_by",
        ]


class SpecOut(serializers.ModelSerializer[TireSpec]):
    """What one orders, with its limits and the pressures published for it alone."""

    line_name = serializers.CharField(source="line.__str__")
    category = serializers.ChoiceField(source="line.category", choices=TireLine.Category.choices)
    pressure_specs = PressureSpecOut(many=True)

    class Meta:
        model = TireSpec
        fields = [
            "id",
            "line",
            "line_name",
            "category",
            "code",
            "axle",
            "size",
            "compound",
            "new_depth_mm",
            "wear_limit_mm",
            "lower_kpa",
            "upper_kpa",
            "heat_cycle_limit",
            "is_road_legal",
            "pressure_specs",
        ]


class LineFilters(Filters):
    """Filters of lines."""

    maker = filters.CharFilter()
    category = filters.ChoiceFilter(choices=TireLine.Category.choices)


class SpecFilters(Filters):
    """Filters of specs."""

    line = by_id("line")
    code = filters.CharFilter()
    axle = filters.ChoiceFilter(choices=Axle.choices)
    category = filters.ChoiceFilter(field_name="line__category", choices=TireLine.Category.choices)


class PressureSpecFilters(Filters):
    """Filters of published pressures."""

    line = by_id("line")
    spec = by_id("spec")
    axle = filters.ChoiceFilter(choices=Axle.choices)


class LineView(Listed[TireLine]):
    """Tire lines."""

    queryset = TireLine.objects.none()
    serializer_class = LineOut
    filterset_class = LineFilters

    def get_queryset(self) -> QuerySet[TireLine]:
        """Return all lines."""
        return scopes.lines(self.by, self.at)


class SpecView(Listed[TireSpec]):
    """Tire specs."""

    queryset = TireSpec.objects.none()
    serializer_class = SpecOut
    filterset_class = SpecFilters

    def get_queryset(self) -> QuerySet[TireSpec]:
        """Return all specs."""
        return scopes.specs(self.by, self.at)


class PressureSpecView(Listed[PressureSpec]):
    """Published pressures."""

    queryset = PressureSpec.objects.none()
    serializer_class = PressureSpecOut
    filterset_class = PressureSpecFilters

    def get_queryset(self) -> QuerySet[PressureSpec]:
        """Return all published pressures."""
        return scopes.pressure_specs(self.by, self.at)
