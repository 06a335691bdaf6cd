"""The form of what is to be said of any unit, offered or bought.

Processes of ``working`` import it: it knows no login.
"""

from __future__ import annotations

from django import forms

from knowngood.maps.kinds import shipped_maps
from knowngood.maps.load import load
from knowngood.maps.words import PASTS


class AboutUnit(forms.Form):
    """What is to be said of any unit: what it is, and what happened to it."""

    happened: str
    """The label of its past."""

    map = forms.ChoiceField(label="What is it?")
    past = forms.MultipleChoiceField(
        required=False,
        choices=[(name, words) for name, words in PASTS.items()],
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(self, data: object = None) -> None:
        super().__init__(data)
        self.fields["map"].choices = [(name, load(name).what) for name in shipped_maps()]
        self.fields["past"].label = self.happened
