"""The tables. Plain records may be edited; evidence is only added to, a correction names the entry it replaces.

parts.py     customer, part, what is locked, design revision, attached files
making.py    printer, spool, build
materials.py own materials, supply, own tests of spools, places of use
service.py   service, inspection
failures.py  failure, fragment, break site, face, treatment, change for the next build
photos.py    photo, its scale and its outline
pointcounts.py  the count by hand, its draft and the finished count
nextbuild.py  terms and choice of a plan for the next build, links for colleagues and their opinions
joinings.py  pictures made of several photos of a face
gapcauses.py  why a road is missing, gap by gap
loads.py     loads that may have broken a face, and what its welds can bear
findings.py  job, measurement, observation, verdict, the person's verdict, summary
weightchoices.py  by which weights verdicts are made
settings.py  what the bench has set for itself, such as the prior
"""

from server.records.failures import (
    BreakSite,
    Change,
    Face,
    Failure,
    FailureEntry,
    Fragment,
    FragmentEntry,
    SiteEntry,
    Treatment,
)
from server.records.findings import Job, Measurement, Observation, PersonVerdict, Summary, VerdictRecord
from server.records.gapcauses import GapCause
from server.records.joinings import Joining
from server.records.loads import LoadCase, WeldStrength
from server.records.making import Build, Printer, Spool
from server.records.materials import CouponTest, OwnMaterial, Supply, UsePlace
from server.records.nextbuild import ChosenPlan, Opinion, OpinionLink, PlanTerms
from server.records.parts import Attachment, Customer, LockedFeature, Part, Revision
from server.records.photos import OutlineRecord, Photo, ScaleRecord
from server.records.pointcounts import PointCount, PointCountDraft
from server.records.service import Inspection, Service
from server.records.settings import BenchSetting
from server.records.weightchoices import WeightChoice

__all__ = [
    "Attachment",
    "BenchSetting",
    "BreakSite",
    "Build",
    "Change",
    "ChosenPlan",
    "CouponTest",
    "Customer",
    "Face",
    "Failure",
    "FailureEntry",
    "Fragment",
    "FragmentEntry",
    "GapCause",
    "Inspection",
    "Job",
    "Joining",
    "LoadCase",
    "LockedFeature",
    "Measurement",
    "Observation",
    "Opinion",
    "OpinionLink",
    "OutlineRecord",
    "OwnMaterial",
    "Part",
    "PersonVerdict",
    "Photo",
    "PlanTerms",
    "PointCount",
    "PointCountDraft",
    "Printer",
    "Revision",
    "ScaleRecord",
    "Service",
    "SiteEntry",
    "Spool",
    "Summary",
    "Supply",
    "Treatment",
    "UsePlace",
    "VerdictRecord",
    "WeightChoice",
    "WeldStrength",
]
