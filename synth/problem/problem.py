"""The problem: what is asked, what is allowed, what is sought; resolved against the catalogues."""

import hashlib
from collections.abc import Mapping
from typing import Any, Self

from pydantic import BaseModel, ConfigDict, PrivateAttr, ValidationError

from synth.core.material import Core, Material
from synth.hinges.kind import JointKind
from synth.hinges.membrane import Membrane
from synth.problem.catalogue import Catalogue, cores, shipped
from synth.problem.choices import Choices
from synth.problem.envelope import Envelope
from synth.problem.faults import from_validation, raise_all
from synth.problem.sections import Accuracy, Aperture, Environment, KeepOut, MassLimit, Search, Structure
from synth.problem.vocabulary import Narrowed, Pins, Vocabulary

SCHEMA = "problem/1"


class Problem(BaseModel):
    """A problem file as read: fields as in the file, SI floats inside, frozen.

    Made by synth.problem.reading (load, loads, from_mapping), which also checks what lies between the sections.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    title: str
    aperture: Aperture
    envelope: tuple[Envelope, ...]
    mass: MassLimit
    search: Search
    accuracy: Accuracy = Accuracy()
    environment: Environment = Environment()
    structure: Structure = Structure()
    choices: Choices = Choices()
    keep_out: tuple[KeepOut, ...] = ()

    _source: bytes = PrivateAttr(default=b"")
    _name: str = PrivateAttr(default="")
    _pins: Pins = PrivateAttr(default_factory=dict)
    _shelf: Catalogue = PrivateAttr(default_factory=shipped)
    _vocabulary: Vocabulary = PrivateAttr(default_factory=lambda: Vocabulary(()))

    @classmethod
    def read_from(
        cls,
        sections: Mapping[str, Any],
        source: bytes,
        name: str,
        vocabulary: Vocabulary,
        pins: Pins,
        shelf: Catalogue,
    ) -> Self:
        """The problem of checked sections; for synth.problem.reading."""
        problem = cls(**sections)
        problem._source = source
        problem._name = name
        problem._vocabulary = vocabulary
        problem._pins = pins
        problem._shelf = shelf
        return problem

    @property
    def source(self) -> bytes:
        """The bytes of the file as given."""
        return self._source

    @property
    def digest(self) -> str:
        """SHA-256 of the file's bytes, hex."""
        return hashlib.sha256(self._source).hexdigest()

    @property
    def name(self) -> str:
        """What the file is called in messages."""
        return self._name

    @property
    def catalogue(self) -> Catalogue:
        """Materials and joints to choose from, those that the problem brings itself among them."""
        return self._shelf

    @property
    def families(self) -> tuple[str, ...]:
        """Families to search, in the order of the vocabulary."""
        wanted = self.choices.families
        return tuple(f for f in self._vocabulary.families if wanted is None or f in wanted)

    @property
    def narrowed(self) -> Mapping[str, Narrowed]:
        """Variables pinned or narrowed, by full name."""
        return self._pins

    def range_of(self, variable: str) -> tuple[float, float] | None:
        """(least, most) that the file and the vocabulary leave of a number by full name, SI; None where unknown."""
        rule, pin = self._vocabulary.variables.get(variable), self._pins.get(variable)
        if pin is not None:
            return pin.low, pin.high
        return None if rule is None else (float(rule.low), float(rule.high))

    @property
    def materials(self) -> tuple[Material, ...]:
        """Panel materials to choose from, in catalogue order; for a transmissive optic those that transmit."""
        known, wanted = self._shelf.materials, self.choices.panel_materials
        pinned = self._pins.get("build.material")
        names = frozenset(wanted or (pinned and pinned.options) or self._shelf.panel_materials)
        found = [m for m in known.values() if m.id in names and (pinned is None or m.id in pinned.options)]
        return tuple(m for m in found if m.transmits or not self.transmissive)

    @property
    def core(self) -> Core:
        """The sandwich core that panels are built with: the first of the catalogue."""
        return next(iter(cores().values()))

    @property
    def frame(self) -> Material:
        """What the bars of framed panels are made of: quasi-isotropic carbon laminate of the catalogue."""
        return self._shelf.materials["cfrp_qi_m55j"]

    @property
    def sections(self) -> tuple[str, ...]:
        """Panel sections to choose from: "solid", "sandwich"; of a transmissive optic "solid", "framed"."""
        pinned = self._pins.get("build.section")
        options = ("solid", "framed") if self.transmissive else ("solid", "sandwich")
        return tuple(o for o in options if pinned is None or o in pinned.options)

    @property
    def hinge_kinds(self) -> tuple[JointKind, ...]:
        """Hinges to choose from, in catalogue order."""
        wanted, pinned = self.choices.hinge_kinds, self._pins.get("build.hinge")
        names = self._shelf.of_role("hinge")
        names = tuple(n for n in names if wanted is None or n in wanted)
        return tuple(self._shelf.joints[n] for n in names if pinned is None or n in pinned.options)

    @property
    def latch_kinds(self) -> tuple[JointKind, ...]:
        """Latches that free edges may be joined with, one kind a design: those named, or the first of the catalogue."""
        first = self.choices.latch_kind or self._shelf.of_role("latch")[0]
        return tuple(self._shelf.joints[name] for name in self.choices.latch_kinds or (first,))

    @property
    def film(self) -> Membrane:
        """The membrane of hinges with slack: the first of the catalogue."""
        model = self._shelf.joints[self._shelf.of_role("membrane")[0]].model
        assert isinstance(model, Membrane)
        return model

    @property
    def mount_kind(self) -> JointKind:
        """The mount of the root panel: the one named, or the first of the catalogue."""
        return self._shelf.joints[self.choices.mount_kind or self._shelf.of_role("mount")[0]]

    def with_search(self, evaluations: int | None = None, seed: int | None = None) -> Self:
        """The same problem (same source and digest) with another number of evaluations or seed.

        InputError where they are out of range.
        """
        given = {k: v for k, v in (("evaluations", evaluations), ("seed", seed)) if v is not None}
        try:
            search = Search.model_validate({**self.search.model_dump(exclude_defaults=True), **given})
        except ValidationError as error:
            raise_all("command line", from_validation(error, "", given))
        return self.model_copy(update={"search": search})

    @property
    def transmissive(self) -> bool:
        """Whether light goes through the panels."""
        return bool(self.aperture.optic == "transmissive")
