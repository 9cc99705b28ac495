"""Tell Django about the app, and with it about the checks of the settings."""

from django.apps import AppConfig

from fleet import checks


class EmbeddedConfig(AppConfig):
    """The one-machine run and the checks of how the service is set up."""

    name = "fleet.embedded"

    def ready(self) -> None:
        """Register the checks of the settings."""
        checks.register_all()
