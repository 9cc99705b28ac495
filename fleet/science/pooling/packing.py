"""Keep a fit as bytes, exactly, without pickling: named arrays and one line of JSON."""

import io
import json
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from fleet.science.pooling.pooled import Joint, Pooled

_ARRAYS = ("main", "shrink", "own", "coefficients", "covariance")
_BY_FACTOR = ("effects", "effect_sds", "counts")


def pack(pooled: Pooled) -> bytes:
    """Return a fit as bytes that ``unpack`` turns into the same fit."""
    joint = pooled.joint
    links = sparse.csr_array(joint.links)
    header = {
        "sd": pooled.sd,
        "residual_sd": pooled.residual_sd,
        "dof": {name: None if np.isinf(value) else value for name, value in pooled.dof.items()},
        "rows": pooled.rows,
        "reml_deviance": pooled.reml_deviance,
        "names": joint.names,
        "spans": [(span.start, span.stop) for span in joint.spans],
        "links_shape": links.shape,
    }
    arrays: dict[str, NDArray[Any]] = {name: getattr(joint, name) for name in _ARRAYS}
    arrays |= {"fixed": pooled.fixed, "fixed_cov": pooled.fixed_cov}
    arrays |= {"links_data": links.data, "links_indices": links.indices, "links_indptr": links.indptr}
    for kind in _BY_FACTOR:
        arrays |= {f"{kind}.{name}": values for name, values in getattr(pooled, kind).items()}
    file = io.BytesIO()
    np.savez_compressed(file, header=np.array(json.dumps(header, default=_plain)), **arrays)  # type: ignore[arg-type]
    return file.getvalue()


def unpack(packed: bytes) -> Pooled:
    """Return the fit that was packed.

    Raises
    ------
    ValueError
        If the bytes are not a packed fit.
    """
    with np.load(io.BytesIO(packed), allow_pickle=False) as arrays:
        header = json.loads(str(arrays["header"]))
        links = sparse.csr_array(
            (arrays["links_data"], arrays["links_indices"], arrays["links_indptr"]),
            shape=tuple(header["links_shape"]),
        )
        joint = Joint(
            names=tuple(header["names"]),
            spans=tuple(slice(*span) for span in header["spans"]),
            links=links,
            **{name: arrays[name] for name in _ARRAYS},
        )
        by_factor = {kind: {name: arrays[f"{kind}.{name}"] for name in header["sd"]} for kind in _BY_FACTOR}
        return Pooled(
            sd=header["sd"],
            residual_sd=header["residual_sd"],
            fixed=arrays["fixed"],
            fixed_cov=arrays["fixed_cov"],
            dof={name: np.inf if value is None else value for name, value in header["dof"].items()},
            rows=header["rows"],
            reml_deviance=header["reml_deviance"],
            joint=joint,
            **by_factor,
        )


def _plain(value: Any) -> Any:
    return value.item()
