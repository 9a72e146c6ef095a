"""Kerfwright: plan how full sheets become the mats and backers of an order.

Everything a notebook needs stands here::

    import kerfwright as kw

    order = kw.load_order("show.toml")
    audited = kw.audit_plan(kw.make_plan(order))
    kw.write_outputs(audited, "show")

A name is loaded when it is first used, so that ``import kerfwright`` and the command's
``--help`` cost nothing.
"""

from __future__ import annotations

from importlib import import_module

# Type checkers take this for typing's own, whose import would take most of the time before the
# command can hear Ctrl-C.
TYPE_CHECKING = False

if TYPE_CHECKING:
    from .aftermath import Idle, Resumed, SetBack, resume_plan
    from .audit import (
        Areas,
        AuditedPlan,
        BoardFacts,
        LayoutFacts,
        LeftoverCount,
        SourceUse,
        audit_plan,
        verify_plan,
    )
    from .errors import (
        AuditError,
        Fault,
        InputError,
        Interrupted,
        KerfwrightError,
        LedgerError,
        RefusedValue,
    )
    from .ledger import (
        Booked,
        Ledger,
        Offer,
        Reserved,
        Resuming,
        book_cut,
        cancel_job,
        check_ledger,
        default_path,
        go_on,
        job_named,
        offered,
        reserved,
        resumable,
        set_aside,
    )
    from .lengths import Length, Size, Unit, format_length, format_size, parse_length, parse_size
    from .order import Order, Piece, PieceKind
    from .outputs import check_folder, default_folder, write_outputs
    from .plan.files import plan_to_json, read_plan
    from .plan.model import (
        Aim,
        AsPlanned,
        Axis,
        BenchStep,
        BoardPlan,
        Certificate,
        CertificateKind,
        Cut,
        Cutting,
        Edge,
        Layout,
        Leftover,
        LeftoverKind,
        Made,
        MadeBy,
        NoPlan,
        OrderedPiece,
        PlacedPiece,
        Plan,
        PlanTool,
        PlanTrim,
        Rungs,
        Source,
        SourceKind,
        StockItem,
        Stop,
    )
    from .planning import make_plan
    from .readers import load_order
    from .stock import Board, Grade, Offcut, RuleClass, SheetSize, Tool, ToolKind, Trim
    from .watching import Progress, Silent, Watch

__version__ = "0.1.0"

__all__ = [
    "Aim",
    "Areas",
    "AsPlanned",
    "AuditError",
    "AuditedPlan",
    "Axis",
    "BenchStep",
    "Board",
    "BoardFacts",
    "BoardPlan",
    "Booked",
    "Certificate",
    "CertificateKind",
    "Cut",
    "Cutting",
    "Edge",
    "Fault",
    "Grade",
    "Idle",
    "InputError",
    "Interrupted",
    "KerfwrightError",
    "Layout",
    "LayoutFacts",
    "Ledger",
    "LedgerError",
    "Leftover",
    "LeftoverCount",
    "LeftoverKind",
    "Length",
    "Made",
    "MadeBy",
    "NoPlan",
    "Offcut",
    "Offer",
    "Order",
    "OrderedPiece",
    "Piece",
    "PieceKind",
    "PlacedPiece",
    "Plan",
    "PlanTool",
    "PlanTrim",
    "Progress",
    "RefusedValue",
    "Reserved",
    "Resumed",
    "Resuming",
    "RuleClass",
    "Rungs",
    "SetBack",
    "SheetSize",
    "Silent",
    "Size",
    "Source",
    "SourceKind",
    "SourceUse",
    "StockItem",
    "Stop",
    "Tool",
    "ToolKind",
    "Trim",
    "Unit",
    "Watch",
    "__version__",
    "audit_plan",
    "book_cut",
    "cancel_job",
    "check_folder",
    "check_ledger",
    "default_folder",
    "default_path",
    "format_length",
    "format_size",
    "go_on",
    "job_named",
    "load_order",
    "make_plan",
    "offered",
    "parse_length",
    "parse_size",
    "plan_to_json",
    "read_plan",
    "reserved",
    "resumable",
    "resume_plan",
    "set_aside",
    "verify_plan",
    "write_outputs",
]

# Where each public name lives, for __getattr__; the imports above are read by type checkers only.
_HOMES = {
    "aftermath": (
        "Idle",
        "Resumed",
        "SetBack",
        "resume_plan",
    ),
    "audit": (
        "Areas",
        "AuditedPlan",
        "BoardFacts",
        "LayoutFacts",
        "LeftoverCount",
        "SourceUse",
        "audit_plan",
        "verify_plan",
    ),
    "errors": (
        "AuditError",
        "Fault",
        "InputError",
        "Interrupted",
        "KerfwrightError",
        "LedgerError",
        "RefusedValue",
    ),
    "ledger": (
        "Booked",
        "Ledger",
        "Offer",
        "Reserved",
        "Resuming",
        "book_cut",
        "cancel_job",
        "check_ledger",
        "default_path",
        "go_on",
        "job_named",
        "offered",
        "reserved",
        "resumable",
        "set_aside",
    ),
    "lengths": (
        "Length",
        "Size",
        "Unit",
        "format_length",
        "format_size",
        "parse_length",
        "parse_size",
    ),
    "order": (
        "Order",
        "Piece",
        "PieceKind",
    ),
    "outputs": (
        "check_folder",
        "default_folder",
        "write_outputs",
    ),
    "plan.files": (
        "plan_to_json",
        "read_plan",
    ),
    "plan.model": (
        "Aim",
        "AsPlanned",
        "Axis",
        "BenchStep",
        "BoardPlan",
        "Certificate",
        "CertificateKind",
        "Cut",
        "Cutting",
        "Edge",
        "Layout",
        "Leftover",
        "LeftoverKind",
        "Made",
        "MadeBy",
        "NoPlan",
        "OrderedPiece",
        "PlacedPiece",
        "Plan",
        "PlanTool",
        "PlanTrim",
        "Rungs",
        "Source",
        "SourceKind",
        "StockItem",
        "Stop",
    ),
    "planning": ("make_plan",),
    "readers": ("load_order",),
    "stock": (
        "Board",
        "Grade",
        "Offcut",
        "RuleClass",
        "SheetSize",
        "Tool",
        "ToolKind",
        "Trim",
    ),
    "watching": (
        "Progress",
        "Silent",
        "Watch",
    ),
}
_HOME = {name: home for home, names in _HOMES.items() for name in names}


def __getattr__(name: str) -> object:
    """Load a public name when it is first used (PEP 562)."""
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value: object = getattr(import_module(f".{_HOME[name]}", __name__), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
