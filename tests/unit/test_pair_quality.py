"""The photo's quality at a package, also where the photo's own list holds none."""

from tests.leaning_views import Pose, photograph
from vision.pair_quality import quality_at, quality_of, worse_quality
from vision.results import Finding, PhotoReport

PHOTO, PACKAGE = photograph(Pose())
KNOWN = Finding(state="fault", reasons=("as judged before",))


def test_the_first_package_keeps_its_quality_and_others_are_judged():
    report = PhotoReport(photo=PHOTO, quality=KNOWN, packages=(PACKAGE,))
    assert quality_at(report, PACKAGE) == KNOWN
    read_later = PhotoReport(photo=PHOTO, quality=KNOWN, packages=())
    assert quality_at(read_later, PACKAGE) == quality_of(PHOTO, PACKAGE)


def test_the_worse_photo_counts_and_a_tag_that_speaks_against_it():
    good = Finding(state="ok")
    assert worse_quality(good, KNOWN).state == "fault"
    assert worse_quality(good, KNOWN).reasons == ("after photo: as judged before",)
    told = worse_quality(good, good, ("the tag says after", ""))
    assert told == Finding(
        state="unsure", reasons=("before photo: the tag says after",)
    )
