"""The demonstration: an invented season, generated anew relative to the day it is loaded."""
