"""How fast and how exactly a chip is followed while it is being set.

    python -m tests.benchmark.bench_place

Two-megapixel frames of a drawn board, camera and chip moving.
"""

from __future__ import annotations

import argparse
import platform
import time

import cv2
import numpy as np

from tests.unit.test_place import begin, camera, frame, pose
from vision.place import follow


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--frames", type=int, default=30)
    parser.add_argument("--threads", type=int, default=2)
    chosen = parser.parse_args()
    cv2.setNumThreads(chosen.threads)
    state, errors, times = begin(), [], []
    for i in range(1, chosen.frames + 1):
        left = 1 - i / chosen.frames
        where = 0.6 * left, -0.4 * left, 5.0 * left
        live = frame(pose(*where), camera((0.8 * i, -0.6 * i)), seed=i)
        live = cv2.cvtColor(live, cv2.COLOR_GRAY2BGR)
        began = time.perf_counter()
        move = follow(state, live)
        times.append(time.perf_counter() - began)
        if not move:
            print(f"frame {i}: {move.reason}")
            return
        off = move.dx_mm + where[0], move.dy_mm + where[1]
        errors.append((*off, move.turn_deg + where[2], move.u_mm))
    error = np.array(errors)
    rms = np.sqrt(np.mean(error**2, axis=0))
    size = live.shape[1] * live.shape[0] / 1e6
    print(f"Python {platform.python_version()}, OpenCV {cv2.__version__}")
    print(
        f"{size:.1f} MP, {chosen.threads} threads: median {1 / np.median(times):.1f} "
        f"frames/s, slowest {1 / max(times):.1f}"
    )
    print(f"rms dx {rms[0]:.4f} mm, dy {rms[1]:.4f} mm, turn {rms[2]:.3f} deg")
    within = np.hypot(error[:, 0], error[:, 1]) <= error[:, 3]
    print(f"shift within U in {100 * within.mean():.0f} % of {len(error)} frames")


if __name__ == "__main__":
    main()
