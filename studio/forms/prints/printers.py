"""What the steel rule says about a printer's check page."""

from __future__ import annotations

from typing import Any

from django import forms


class _Bar(forms.DecimalField):
    def __init__(self, label: str) -> None:
        super().__init__(
            label=label,
            max_digits=5,
            decimal_places=2,
            error_messages={
                "invalid": "Write what the rule says in millimetres, such as 99.4.",
                "required": "Measure this bar, and write what the rule says.",
                "max_decimal_places": "Two places are finer than any rule: write such as 99.4.",
                "max_digits": "A bar of 100 mm measures something near 100.",
            },
        )
        self.widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})

    def to_python(self, value: Any) -> Any:
        return super().to_python(
            value.strip().replace(",", ".") if isinstance(value, str) else value
        )


class PrinterForm(forms.Form):
    name = forms.CharField(
        label="Printer",
        max_length=40,
        help_text="A name that everybody here knows, such as “Room 12”.",
        error_messages={"required": "Give the printer a name, such as the room it stands in."},
    )
    across_mm = _Bar("Bar across, mm")
    up_mm = _Bar("Bar up, mm")
    sure = forms.BooleanField(
        label="I am sure: it was printed at 100 % and measured with a steel rule",
        required=False,
    )
