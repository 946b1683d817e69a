"""Insertion sequence: steps of the operation, what can be corrected after each, its effects, and the tools needed."""

from app.order.bones import bone_order
from app.order.corrections import Correctable
from app.order.document import order_document
from app.order.plan import plan
from app.order.progress import LineProgress
from app.order.sequence import derive_order, order_of
from app.order.states import Offset, State, states
from app.order.steps import Drill, Step
from app.order.tools import Item, ScrewItem, ToolList, tool_list

__all__ = [
    "Correctable",
    "Drill",
    "Item",
    "LineProgress",
    "Offset",
    "ScrewItem",
    "State",
    "Step",
    "ToolList",
    "bone_order",
    "derive_order",
    "order_document",
    "order_of",
    "plan",
    "states",
    "tool_list",
]
