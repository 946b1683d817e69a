"""The loads that a construct is looked at under: a setting of the view, kept in its address, never in the case file."""

from typing import Annotated, Literal, Self

from fastapi import Depends, HTTPException, Query
from pydantic import BaseModel, ConfigDict, Field, FiniteFloat, ValidationError, model_validator

from app.case import Case
from app.case.models import MAX_CONSTRUCTS
from app.case.refusals import in_words
from app.mechanics import Supports
from app.mechanics.of_layout import Loading, preset_loading
from app.web.http.parameters import ConstructIndex

OWN = "own"
AXIAL_N, BENDING_NM, TORSION_NM = (0.0, 10_000.0), (-250.0, 250.0), (0.0, 150.0)
End = Literal["ball", "held"]


class LoadChoice(BaseModel):
    """The loading chosen for one construct: a preset of its bone or figures of one's own, and how its ends are held."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, frozen=True)

    shown: ConstructIndex = Field(default=0, alias="construct")
    stage: Literal["protected", "partial", "full", "own"] = "protected"
    axial_n: FiniteFloat | None = Field(default=None, ge=AXIAL_N[0], le=AXIAL_N[1])
    bending_nm: FiniteFloat | None = Field(default=None, ge=BENDING_NM[0], le=BENDING_NM[1])
    torsion_nm: FiniteFloat | None = Field(default=None, ge=TORSION_NM[0], le=TORSION_NM[1])
    proximal: End = "ball"
    distal: End = "ball"

    @model_validator(mode="after")
    def _figures_are_own(self) -> Self:
        given = [value is not None for value in (self.axial_n, self.bending_nm, self.torsion_nm)]
        if self.stage == OWN and not all(given):
            message = "loads of one's own need axial_n, bending_nm and torsion_nm"
            raise ValueError(message)
        if self.stage != OWN and any(given):
            message = 'a preset brings its own figures; the stage of others is "own"'
            raise ValueError(message)
        return self

    def on(self, bone: str) -> Loading:
        """As the mechanics take it."""
        supports = Supports(self.proximal, self.distal)
        if self.stage != OWN:
            return preset_loading(bone, self.stage, supports)
        return Loading(OWN, self.axial_n or 0.0, self.bending_nm or 0.0, self.torsion_nm or 0.0, supports)

    @property
    def text(self) -> str:
        """As an address carries it: ``0,partial,ball,held`` or ``0,own,400,3,2,ball,ball``."""
        own = (f"{value:g}" for value in (self.axial_n, self.bending_nm, self.torsion_nm) if value is not None)
        return ",".join((str(self.shown), self.stage, *own, self.proximal, self.distal))


Loads = tuple[LoadChoice, ...]


def read_choice(text: str) -> LoadChoice:
    """The choice that an address carries.

    Raises:
        ValueError: it carries none.
    """
    shown, stage, *own, proximal, distal = text.split(",")
    if len(own) not in (0, 3):
        message = "three loads or none"
        raise ValueError(message)
    named = dict(zip(("axial_n", "bending_nm", "torsion_nm"), own, strict=False))
    return LoadChoice.model_validate(
        {"construct": shown, "stage": stage, **named, "proximal": proximal, "distal": distal}
    )


def loads_in_address(loading: Annotated[list[str] | None, Query(max_length=MAX_CONSTRUCTS)] = None) -> Loads:
    """The choices in an address, as a dependency of pages."""
    try:
        return tuple(read_choice(text) for text in loading or ())
    except ValidationError as error:
        fault = error.errors()[0]
        told = " ".join([*map(str, fault["loc"]), in_words(fault)])
        raise HTTPException(422, f"The loading in the address is not one: {told}.") from error
    except ValueError as error:
        raise HTTPException(422, "The loading in the address is not one, such as 0,partial,ball,ball.") from error


LoadsDep = Annotated[Loads, Depends(loads_in_address)]


def loadings_of(case: Case, loads: Loads) -> dict[int, Loading]:
    """Loading by construct; of constructs that the case doesn't have, none."""
    constructs = case.constructs
    return {
        choice.shown: choice.on(constructs[choice.shown].bone.name)
        for choice in loads
        if choice.shown < len(constructs)
    }


def choice_for(loads: Loads, target: int) -> LoadChoice:
    """The last choice made for a construct, or the one that stands where none was made."""
    made = [choice for choice in loads if choice.shown == target]
    return made[-1] if made else LoadChoice(construct=target)


def query_of(loads: Loads) -> str:
    """The part of an address that carries the choices: each construct's last, none that says nothing."""
    kept = {choice.shown: choice for choice in loads}
    told = [choice for choice in kept.values() if choice != LoadChoice(construct=choice.shown)]
    return "".join(f"&loading={choice.text}" for choice in told)
