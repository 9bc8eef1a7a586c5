"""Every case of a bench with every revision and its scans, in one database and one folder."""

from mountproof.case.store.change import Change as Change
from mountproof.case.store.differences import FieldChange as FieldChange
from mountproof.case.store.place import user_place as user_place
from mountproof.case.store.records import Accepted as Accepted
from mountproof.case.store.records import BroughtIn as BroughtIn
from mountproof.case.store.records import CaseState as CaseState
from mountproof.case.store.records import Conflict as Conflict
from mountproof.case.store.records import ConflictError as ConflictError
from mountproof.case.store.records import Device as Device
from mountproof.case.store.records import Listed as Listed
from mountproof.case.store.records import Page as Page
from mountproof.case.store.records import Profile as Profile
from mountproof.case.store.records import Revision as Revision
from mountproof.case.store.records import Touched as Touched
from mountproof.case.store.scans import Scan as Scan
from mountproof.case.store.scans import Stray as Stray
from mountproof.case.store.snapshot import Snapshot as Snapshot
from mountproof.case.store.store import Store as Store
