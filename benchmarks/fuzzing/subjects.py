"""All subjects, by name."""

from benchmarks import odd_orders
from benchmarks.fuzzing import (
    arguments,
    calipers,
    full_disk,
    little_memory,
    meshes,
    orders,
    own_designs,
    paths,
    plan_folders,
    rough_files,
    sawn_files,
    scans,
    signals,
    surroundings,
)
from benchmarks.fuzzing.case import Subject

SUBJECTS: dict[str, Subject] = {
    "scans": scans.case,
    "orders": orders.case,
    "odd-orders": odd_orders.case,
    "own-designs": own_designs.case,
    "rough-files": rough_files.case,
    "calipers": calipers.case,
    "sawn-files": sawn_files.case,
    "plan-folders": plan_folders.case,
    "meshes": meshes.case,
    "paths": paths.case,
    "arguments": arguments.case,
    "signals": signals.case,
    "little-memory": little_memory.case,
    "full-disk": full_disk.case,
    "surroundings": surroundings.case,
}
