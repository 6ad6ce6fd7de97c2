"""The brief as a form: lengths in the school's units, kerf suggested from the blade table."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import HTML, Div, Fieldset, Layout
from django import forms
from django.db.models import Q, QuerySet
from django.utils import timezone

from classroom.figures.units import Units, format_thickness
from classroom.forms.lengths import LengthField, use_units
from classroom.models import Course, School, User
from inventory import metals
from inventory.models import Metal
from studio.core.bench.steps import USUAL_TEACHER_SIGNS
from studio.core.bench.texts import TEXTS, BenchStepKind
from studio.forms.plans.hands import hand_choices
from studio.models import Brief, Hand
from studio.steps.plans.placing_settings import PlacingRules, rules_for, table_kerf_mm

HANDS = '{% include "studio/briefs/hands.html" %}'  # pictures that the page has ready
LAID_BY = (
    (Brief.LaidBy.SERVER, "The server: nobody lays a piece by hand before there is a plan."),
    (
        Brief.LaidBy.FIRST,
        "Students first, if they like: a layout that is handed in lies in the class plan as it "
        "is, where it fits; the server lays the rest.",
    ),
    (
        Brief.LaidBy.STANDS,
        "Each student, and it stands: a pattern is handed in with its layout, and a plan sets "
        "one aside only where you say so.",
    ),
)
LIMITS = ("max_width_mm", "max_height_mm", "least_bridge_mm", "least_web_mm")
HOLE_LIMITS = ("least_hole_edge_mm", "least_window_mm", "offcut_min_width_mm")


suggested_kerf_mm = table_kerf_mm


def blade_choices(
    rules: PlacingRules | None = None, units: Units | str = Units.MM
) -> list[tuple[str, str]]:
    """Every blade with the kerf that it makes here, in the school's units."""
    rules = rules or PlacingRules()
    return [
        (
            blade.size,
            f"{blade.size}, kerf about {format_thickness(rules.kerf_mm(blade.size), units)}",
        )
        for blade in metals.BLADES
    ]


class MetalsField(forms.ModelMultipleChoiceField[Metal]):
    def label_from_instance(self, obj: Any) -> str:
        metal: Metal = obj
        retired = " (no longer bought)" if metal.retired_at else ""
        return f"{metal}, {metal.get_temper_display()}{retired}"


class BriefForm(forms.ModelForm[Brief]):
    """A brief of `course`; `form.brief_metals` are the metals chosen."""

    metals = MetalsField(
        queryset=Metal.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        label="Metals allowed",
        error_messages={"required": "Choose at least one metal."},
    )
    max_width_mm = LengthField(label="Widest", least_mm=5, most_mm=600)
    max_height_mm = LengthField(label="Highest", least_mm=5, most_mm=600)
    least_bridge_mm = LengthField(label="Least bridge between windows", least_mm=0.1, most_mm=600)
    least_web_mm = LengthField(label="Least web, window to outside", least_mm=0.1, most_mm=600)
    least_hole_edge_mm = LengthField(
        label="Least metal from a drilled hole to an edge", least_mm=0.1, most_mm=600
    )
    least_window_mm = LengthField(label="Least window across", least_mm=0.1, most_mm=600)
    offcut_min_width_mm = LengthField(
        label="Keep offcuts at least this wide",
        least_mm=2,
        most_mm=600,
        help_text="Anything narrower goes into the scrap box.",
    )
    blade = forms.ChoiceField(label="Saw blade", choices=blade_choices)
    kerf_mm = LengthField(
        label="Kerf",
        least_mm=0.05,
        most_mm=3,
        required=False,
        help_text="The width of the saw cut. Left empty, it is taken from the blade. Measure a cut "
        "of yours to know.",
    )
    hand = forms.ChoiceField(
        label="How sure the hands are",
        required=False,
        widget=forms.RadioSelect,
        help_text="How much room pieces get between them on the metal: for the saw that wanders, "
        "and for the file.",
    )
    laid_by = forms.ChoiceField(
        label="Who lays the pieces out",
        choices=LAID_BY,
        required=False,
        widget=forms.RadioSelect,
        help_text="Every layout passes the same check before metal is reserved for it.",
    )
    teacher_signs = forms.MultipleChoiceField(
        label="Steps that a teacher checks and signs too",
        choices=[(str(kind), TEXTS[kind].title) for kind in BenchStepKind],
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )

    class Meta:
        model = Brief
        fields = [
            "title",
            "text",
            "due_on",
            "metals",
            "allowance",
            *LIMITS,
            *HOLE_LIMITS,
            "blade",
            "kerf_mm",
            "hand",
            "grain",
            "may_mirror",
            "laid_by",
            "least_kept_percent",
            "dry_minutes",
            "soak_minutes",
            "teacher_signs",
        ]
        labels = {
            "title": "What the class makes",
            "text": "What it is about",
            "due_on": "Due on",
            "least_kept_percent": "Least share of its metal that a layout keeps, in percent",
            "dry_minutes": "Drying time in minutes",
            "soak_minutes": "Soaking time in minutes",
        }
        help_texts = {
            "grain": "Matters where pieces are bent or brushed. Then only metal is used whose "
            "grain is known, and pieces lie two ways instead of any.",
            "may_mirror": "Saves metal where no lettering is lost by it: the paper is then printed "
            "the other way round.",
            "least_kept_percent": "Of the stock piece, or the rectangle of it, on which a student "
            "lays: so much is to go back to the rack as offcuts. A layout that keeps less is not "
            "taken in. Left empty, any layout may be handed in.",
            "title": "A short name, such as “Sea creature pendant”.",
            "text": "What you would tell the class: theme, what counts, what to bring.",
            "dry_minutes": "15 to 20 is common practice for water-based adhesive. "
            "Your adhesive's own label comes first.",
            "soak_minutes": "5 to 10 in warm water is common practice.",
        }
        widgets = {
            "text": forms.Textarea(attrs={"rows": 5}),
            "due_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        }

    def __init__(self, *args: Any, course: Course, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.course = course
        school: School = acting.school
        use_units(self, school)
        self.metals_field.queryset = self._metals(school)
        self.fields["allowance"].label = f"Allowance for each student in {school.currency}"
        self.fields[
            "allowance"
        ].help_text = (
            "What one piece may cost: metal, its share of waste, blades. A plan over it is shown."
        )
        self.fields["grain"].required = False
        self.rules = rules_for(school, course)
        blades = self.fields["blade"]
        assert isinstance(blades, forms.ChoiceField)
        blades.choices = blade_choices(self.rules, school.units)
        self._hands(school)
        if self.instance.pk is None:
            # Declared fields do not take the model's defaults over by themselves.
            for name in (*LIMITS, *HOLE_LIMITS, "blade"):
                self.fields[name].initial = Brief._meta.get_field(name).get_default()
            self.fields["blade"].initial = self.rules.blade
            self.fields["laid_by"].initial = self.instance.laid_by
            self.fields["offcut_min_width_mm"].initial = self.rules.offcut_min_width_mm
            self.fields["teacher_signs"].initial = sorted(USUAL_TEACHER_SIGNS)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.layout = _layout()

    def _hands(self, school: School) -> None:
        choices = hand_choices(self.rules, school)
        field = self.fields["hand"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [("", f"As the course: {Hand(self.rules.hand).label}"), *choices]

    @property
    def metals_field(self) -> MetalsField:
        field = self.fields["metals"]
        assert isinstance(field, MetalsField)
        return field

    def _metals(self, school: School) -> QuerySet[Metal]:
        """The school's metals in use, and those the brief names already."""
        usable = Q(retired_at=None)
        if self.instance.pk is not None:
            usable |= Q(briefs=self.instance)
        return Metal.objects.filter(usable, school=school).distinct()

    def clean_due_on(self) -> Any:
        due = self.cleaned_data["due_on"]
        changed = due != self.instance.due_on
        if due is not None and changed and due < timezone.localdate():
            raise forms.ValidationError("That day is over. Choose today or later, or leave it out.")
        return due

    def clean_grain(self) -> str:
        return str(self.cleaned_data["grain"] or Brief.Grain.ANY)

    def clean_laid_by(self) -> str:
        return str(self.cleaned_data["laid_by"] or self.instance.laid_by)

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean() or {}
        if cleaned.get("kerf_mm") is None and "kerf_mm" not in self.errors:
            cleaned["kerf_mm"] = self.rules.kerf_mm(cleaned.get("blade", self.rules.blade))
        return cleaned

    def unsaved(self) -> Brief:
        """The brief as typed, not yet saved; its metals are in `brief_metals`."""
        brief = self.instance
        brief.course = self.course
        brief.teacher_signs = list(self.cleaned_data["teacher_signs"])
        return brief

    @property
    def brief_metals(self) -> list[Metal]:
        return list(self.cleaned_data["metals"])


def _layout() -> Layout:
    return Layout(
        Fieldset("The work", "title", "text", Div("due_on", "allowance", css_class="form-grid")),
        Fieldset("Metal", "metals"),
        Fieldset(
            "Limits of the pattern",
            HTML(
                '<p class="form-text">Every pattern is measured against these. The values given '
                "first are for beginners: common practice, to be set as your class works.</p>"
            ),
            Div(*LIMITS, *HOLE_LIMITS, css_class="form-grid"),
        ),
        Fieldset("Saw", Div("blade", "kerf_mm", css_class="form-grid"), "hand", HTML(HANDS)),
        Fieldset("How the pieces may lie", "grain", "may_mirror"),
        Fieldset("Laying out", "laid_by", "least_kept_percent"),
        Fieldset(
            "Bench steps",
            Div("dry_minutes", "soak_minutes", css_class="form-grid"),
            "teacher_signs",
        ),
    )


class _BriefChoice(forms.ModelChoiceField[Brief]):
    def label_from_instance(self, obj: Any) -> str:
        brief: Brief = obj
        return f"{brief.title} ({brief.course}, {brief.course.term})"


class EarlierBriefForm(forms.Form):
    """Start a new brief from one of the teacher's earlier ones."""

    start_from = _BriefChoice(
        Brief.objects.none(),
        label="Start from an earlier brief",
        empty_label="An empty page",
        required=False,
    )

    def __init__(self, *args: Any, briefs: QuerySet[Brief], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["start_from"]
        assert isinstance(field, _BriefChoice)
        field.queryset = briefs


COPIED = (
    "title",
    "text",
    "allowance",
    *LIMITS,
    *HOLE_LIMITS,
    "blade",
    "kerf_mm",
    "hand",
    "grain",
    "may_mirror",
    "laid_by",
    "least_kept_percent",
    "dry_minutes",
    "soak_minutes",
    "teacher_signs",
)


def copied_from(brief: Brief) -> dict[str, Any]:
    """What a new brief takes over from an earlier one: all but its course and due date."""
    metals_in_use = list(brief.metals.filter(retired_at=None))
    return {name: getattr(brief, name) for name in COPIED} | {"metals": metals_in_use}
