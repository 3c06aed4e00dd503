"""An invented world with known truth: routes, riders, receivers and their faults (numpy only, seeded).

``simulate`` makes a `World`; ``world.write_gpx(folder)`` writes it as GPX files with their ``rides.csv``.
Nothing here uses the project's own code, so that what is simulated can judge it.
"""

from world.faults import Fault
from world.files import write_gpx
from world.globe import Globe
from world.receivers import Receiver
from world.routes import SHAPES, Route
from world.simulation import Recording, World, simulate

__all__ = ["SHAPES", "Fault", "Globe", "Receiver", "Recording", "Route", "World", "simulate", "write_gpx"]
