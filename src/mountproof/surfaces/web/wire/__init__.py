"""What travels between the server and the page: the page's types are made from these shapes.

Numbers that a person reads come with their text (``shown``), written by the server in the language asked for: the page
computes and formats nothing. Names of entries (``field``) are those of the case file, as faults write them.
"""

from mountproof.surfaces.web.wire.access import AboutOut as AboutOut
from mountproof.surfaces.web.wire.access import DeviceOut as DeviceOut
from mountproof.surfaces.web.wire.access import PairIn as PairIn
from mountproof.surfaces.web.wire.access import PairingOut as PairingOut
from mountproof.surfaces.web.wire.base import MOST_ID as MOST_ID
from mountproof.surfaces.web.wire.base import ConflictOut as ConflictOut
from mountproof.surfaces.web.wire.base import Conflicts as Conflicts
from mountproof.surfaces.web.wire.base import FaultOut as FaultOut
from mountproof.surfaces.web.wire.base import Faults as Faults
from mountproof.surfaces.web.wire.base import Wire as Wire
from mountproof.surfaces.web.wire.cases import CaseOut as CaseOut
from mountproof.surfaces.web.wire.cases import CaseState as CaseState
from mountproof.surfaces.web.wire.cases import CellOut as CellOut
from mountproof.surfaces.web.wire.cases import FileOut as FileOut
from mountproof.surfaces.web.wire.cases import ListedOut as ListedOut
from mountproof.surfaces.web.wire.cases import MarkGridOut as MarkGridOut
from mountproof.surfaces.web.wire.cases import MarkRowOut as MarkRowOut
from mountproof.surfaces.web.wire.cases import MarkStateOut as MarkStateOut
from mountproof.surfaces.web.wire.cases import PageOut as PageOut
from mountproof.surfaces.web.wire.edits import AcceptIn as AcceptIn
from mountproof.surfaces.web.wire.edits import ChangeOut as ChangeOut
from mountproof.surfaces.web.wire.edits import EditIn as EditIn
from mountproof.surfaces.web.wire.edits import EditsIn as EditsIn
from mountproof.surfaces.web.wire.edits import NewCaseIn as NewCaseIn
from mountproof.surfaces.web.wire.edits import RevisionOut as RevisionOut
from mountproof.surfaces.web.wire.edits import SavedOut as SavedOut
from mountproof.surfaces.web.wire.edits import StateIn as StateIn
from mountproof.surfaces.web.wire.edits import TryOut as TryOut
from mountproof.surfaces.web.wire.edits import UndoIn as UndoIn
from mountproof.surfaces.web.wire.fields import ChoiceOut as ChoiceOut
from mountproof.surfaces.web.wire.fields import FieldOut as FieldOut
from mountproof.surfaces.web.wire.procedure import PourMarkOut as PourMarkOut
from mountproof.surfaces.web.wire.procedure import PourOut as PourOut
from mountproof.surfaces.web.wire.procedure import PoursOut as PoursOut
from mountproof.surfaces.web.wire.procedure import ProfileIn as ProfileIn
from mountproof.surfaces.web.wire.procedure import ProfileOut as ProfileOut
from mountproof.surfaces.web.wire.procedure import ProfileUseIn as ProfileUseIn
from mountproof.surfaces.web.wire.procedure import StepOut as StepOut
from mountproof.surfaces.web.wire.scans import FindingOut as FindingOut
from mountproof.surfaces.web.wire.scans import ResidualOut as ResidualOut
from mountproof.surfaces.web.wire.scans import ScanOut as ScanOut
from mountproof.surfaces.web.wire.scene import ArchMeshOut as ArchMeshOut
from mountproof.surfaces.web.wire.scene import AtIn as AtIn
from mountproof.surfaces.web.wire.scene import AtOut as AtOut
from mountproof.surfaces.web.wire.scene import BandOut as BandOut
from mountproof.surfaces.web.wire.scene import LineOut as LineOut
from mountproof.surfaces.web.wire.scene import SceneOut as SceneOut
from mountproof.surfaces.web.wire.scene import SiteOut as SiteOut
from mountproof.surfaces.web.wire.scene import StopOut as StopOut
from mountproof.surfaces.web.wire.sheet import AcceptedOut as AcceptedOut
from mountproof.surfaces.web.wire.sheet import AnswerOut as AnswerOut
from mountproof.surfaces.web.wire.sheet import AnswerState as AnswerState
from mountproof.surfaces.web.wire.sheet import AssumptionOut as AssumptionOut
from mountproof.surfaces.web.wire.sheet import GateOut as GateOut
from mountproof.surfaces.web.wire.sheet import NeedOut as NeedOut
from mountproof.surfaces.web.wire.sheet import QuantityOut as QuantityOut
from mountproof.surfaces.web.wire.sheet import ReasonOut as ReasonOut
from mountproof.surfaces.web.wire.sheet import SheetOut as SheetOut
from mountproof.surfaces.web.wire.sheet import TableOut as TableOut
from mountproof.surfaces.web.wire.work import EventOut as EventOut
from mountproof.surfaces.web.wire.work import WorkOut as WorkOut
