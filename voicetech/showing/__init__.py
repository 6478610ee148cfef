"""What a screen shows of a job at work, without a word of layout: pages and terminals lay it out, each in its way."""

from voicetech.showing.view import View, view_of

__all__ = ["View", "view_of"]
