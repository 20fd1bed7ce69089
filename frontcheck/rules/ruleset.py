"""Rule sets: the numbers of one edition of the rules, each with its source.

An edition is a parameter of every calculation, never a switch inside one.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from frontcheck.errors import refuse
from frontcheck.rules.constant import Constant
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from frontcheck.errors import RefusedError
    from frontcheck.rules.constant import Scalar

DEFAULT_RULES: Final = "UN-R127-02"
"""The rule set used where none is asked for."""

_IDS: Final = (
    "EU-631-2009",
    "UN-GTR9",
    "UN-GTR9-A2",
    "UN-R127-00",
    "UN-R127-01",
    "UN-R127-02",
    "UN-R127-03",
)
_BASE: Final = "base.toml"
_BY_USER: Final = "set by the user"
_TITLE_MARK: Final = "; set by the user: "


@one_line
@dataclass(frozen=True)
class RuleSet:
    """The constants of one edition of the rules. Cannot be changed; see `with_values`.

    Iterating gives the constants in the order of the base file.

    Parameters
    ----------
    id : str
        Id, such as ``UN-R127-02``.
    title : str
        Title of the document and edition.
    constants : mapping of str to Constant
        Constants by dotted name.
    caution : str, optional
        What to mind of the whole set; printed with every result.

    Examples
    --------
    >>> import frontcheck as fc
    >>> rules = fc.rule_set("UN-R127-02")
    >>> rules.value("blerl.contact_tolerance_mm")
    0.1
    """

    id: str
    title: str
    constants: Mapping[str, Constant] = field(hash=False, repr=False)
    caution: str = ""

    def __post_init__(self) -> None:
        """Keep a read-only copy of the constants."""
        object.__setattr__(self, "constants", MappingProxyType(dict(self.constants)))

    def __reduce__(self) -> tuple[type[RuleSet], tuple[str, str, dict[str, Constant], str]]:
        """Pickle as plain parts: sweeps send sets about, and a read-only mapping cannot go."""
        return type(self), (self.id, self.title, dict(self.constants), self.caution)

    def __iter__(self) -> Iterator[Constant]:
        return iter(self.constants.values())

    def __len__(self) -> int:
        return len(self.constants)

    def __contains__(self, name: object) -> bool:
        return name in self.constants

    def __getitem__(self, name: str) -> Constant:
        try:
            return self.constants[name]
        except KeyError:
            known = ", ".join(self.constants)
            raise refuse("rules.no_constant", f"rule set {self.id}", name=name, known=known) from (
                None
            )

    @property
    def changed(self) -> tuple[str, ...]:
        """Names of the constants that the user has set, in order."""
        return tuple(c.name for c in self if c.document == _BY_USER)

    def value(self, name: str) -> float:
        """Return a number.

        Parameters
        ----------
        name : str
            Dotted name of the constant.

        Returns
        -------
        float
            Its value, in the unit of the constant.

        Raises
        ------
        RuleSetError
            If there is no such constant or it is not a number.
        """
        value = self[name].value
        if isinstance(value, float):
            return value
        raise self._wrong_kind(name, "a number")

    def flag(self, name: str) -> bool:
        """Return a switch.

        Parameters
        ----------
        name : str
            Dotted name of the constant.

        Returns
        -------
        bool
            Its value.

        Raises
        ------
        RuleSetError
            If there is no such constant or it is not a switch.
        """
        value = self[name].value
        if isinstance(value, bool):
            return value
        raise self._wrong_kind(name, "a switch (true or false)")

    def text(self, name: str) -> str:
        """Return a text.

        Parameters
        ----------
        name : str
            Dotted name of the constant.

        Returns
        -------
        str
            Its value.

        Raises
        ------
        RuleSetError
            If there is no such constant or it is not a text.
        """
        value = self[name].value
        if isinstance(value, str):
            return value
        raise self._wrong_kind(name, "a text")

    def texts(self, name: str) -> tuple[str, ...]:
        """Return a list of texts.

        Parameters
        ----------
        name : str
            Dotted name of the constant.

        Returns
        -------
        tuple of str
            Its value; may be empty.

        Raises
        ------
        RuleSetError
            If there is no such constant or it is not a list of texts.
        """
        value = self[name].value
        if isinstance(value, tuple):
            texts = tuple(item for item in value if isinstance(item, str))
            if len(texts) == len(value):
                return texts
        raise self._wrong_kind(name, "a list of texts")

    def values(self, name: str) -> tuple[float, ...]:
        """Return a list of numbers.

        Parameters
        ----------
        name : str
            Dotted name of the constant.

        Returns
        -------
        tuple of float
            Its value, in the unit of the constant; may be empty.

        Raises
        ------
        RuleSetError
            If there is no such constant or it is not a list of numbers.
        """
        value = self[name].value
        if isinstance(value, tuple):
            numbers = tuple(item for item in value if isinstance(item, float))
            if len(numbers) == len(value):
                return numbers
        raise self._wrong_kind(name, "a list of numbers")

    def with_values(self, changes: Mapping[str, Scalar | Sequence[Scalar]]) -> RuleSet:
        """Return the same rules with some values set by the user, for what-if questions.

        The changed constants lose their document, and the title names them: a
        result under changed rules must not pass for one under the rules.

        Parameters
        ----------
        changes : mapping of str to value
            New values by dotted name, in the unit of each constant.

        Returns
        -------
        RuleSet
            A new rule set; this one stays as it is.

        Raises
        ------
        RuleSetError
            If a name is not known or a value is not of the kind that the constant is.
        """
        constants = dict(self.constants)
        for name, new in changes.items():
            old = self[name]
            by_rules = (
                old.note if old.document == _BY_USER else f"{_BY_USER} in place of {old.plain}"
            )
            changed = Constant(
                name=name,
                value=new if isinstance(new, (float, int, str)) else tuple(new),
                unit=old.unit,
                document=_BY_USER,
                paragraph="",
                provenance="own choice",
                note=by_rules,
            )
            if not old.alike(changed):
                raise refuse("rules.not_alike", f"rule set {self.id}", key=name, new=repr(new),
                             wanted=old.kind, old=old.plain)  # fmt: skip
            constants[name] = changed
        title = self.title.partition(_TITLE_MARK)[0]
        result = replace(self, title=title, constants=constants)
        if not result.changed:
            return result
        return replace(result, title=f"{result.title}{_TITLE_MARK}{', '.join(result.changed)}")

    def _wrong_kind(self, name: str, wanted: str) -> RefusedError:
        one = self[name]
        return refuse("rules.read_as", f"rule set {self.id}", key=name, plain=one.plain,
                      is_a=one.kind, wanted=wanted)  # fmt: skip


def rule_set(rules: str | RuleSet = DEFAULT_RULES) -> RuleSet:
    """Return a rule set by its id; a rule set given instead of an id is passed through.

    Parameters
    ----------
    rules : str or RuleSet, optional
        One of `rule_set_ids`, or a rule set.

    Returns
    -------
    RuleSet
        The rule set; the same object for the same id.

    Raises
    ------
    RuleSetError
        If there is no rule set of that id.

    Examples
    --------
    >>> import frontcheck as fc
    >>> fc.rule_set("UN-R127-02").title
    'UN Regulation No. 127, 02 series of amendments'
    """
    if isinstance(rules, RuleSet):
        return rules
    if rules not in _IDS:
        raise refuse("rules.no_set", id=rules, known=_IDS)
    return _shipped(rules)


def rule_set_ids() -> tuple[str, ...]:
    """Return the ids of all rule sets.

    Returns
    -------
    tuple of str
        Ids, in a stable order.

    Examples
    --------
    >>> import frontcheck as fc
    >>> "UN-R127-02" in fc.rule_set_ids()
    True
    """
    return _IDS


def parse_rule_set(text: str, file: str = "rule set") -> RuleSet:
    """Read a rule set of your own, layered on the base that frontcheck comes with."""
    from frontcheck.rules.rule_file import Records, layered  # here: `--help` needs no rule set

    over = Records(text, file)
    head = over.head
    constants = layered(Records(_read(_BASE), _BASE), over)
    return RuleSet(head.id, head.title, constants, " ".join(head.caution.split()))


@cache
def _shipped(id_: str) -> RuleSet:
    return parse_rule_set(_read(f"{id_}.toml"), f"{id_}.toml")


def _read(file: str) -> str:
    from importlib.resources import files  # here: the command line must start fast

    return files("frontcheck.rules").joinpath(file).read_text(encoding="utf-8")
