"""Values as JSON knows them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np


def json_plain(value: Any) -> Any:
    """Return a value made of dictionaries, lists, text, numbers and None; what is not finite becomes None."""
    if isinstance(value, Mapping):
        return {str(key): json_plain(entry) for key, entry in value.items()}
    if isinstance(value, np.ndarray):
        return json_plain(value.tolist())
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [json_plain(entry) for entry in value]
    if isinstance(value, np.generic):
        return json_plain(value.item())
    return None if isinstance(value, float) and not math.isfinite(value) else value
