"""framevis: shows gantry builders where measured frame deviations make carriages bind."""

__version__ = "0.1.0"
