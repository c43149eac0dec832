"""Weather-driven fruiting and soak scheduler for growers of shiitake on logs."""

__version__ = "0.1.0"
