"""From photographs of a board to what can be said about the chips on it."""

import os

# Nothing is sent anywhere: onnxruntime reads this while it is imported.
os.environ.setdefault("ORT_DISABLE_TELEMETRY", "1")
