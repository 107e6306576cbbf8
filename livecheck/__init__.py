"""livecheck: an honest ear for the steel guitar."""

__version__ = "0.1.0"
