"""nbgrader's configuration of this course: each list is the order in which nbgrader takes the steps.

A class folder made by the command `class` starts with a copy of this file. No code of a learner's is run: `Judge`
stands where nbgrader's own list has `Execute`.
"""

import course

c = get_config()  # noqa: F821 - nbgrader gives the file this function

c.CourseDirectory.course_id = "timing"

# From source/ to release/: the learner's edition.
c.GenerateAssignment.preprocessors = [
    "course.authoring.build.InstructorCellsRemoved",
    "course.authoring.build.ValuesFilledIn",
    "course.authoring.build.WordsLinked",  # behind the values, which hold words of the trade too
    "nbgrader.preprocessors.LockCells",
    "nbgrader.preprocessors.ClearSolutions",
    "nbgrader.preprocessors.ClearOutput",
    "nbgrader.preprocessors.CheckCellMetadata",
    "nbgrader.preprocessors.ComputeChecksums",
    "nbgrader.preprocessors.SaveCells",  # before hidden tests go: the gradebook keeps them
    "nbgrader.preprocessors.ClearHiddenTests",
    "nbgrader.preprocessors.ClearMarkScheme",
    "nbgrader.preprocessors.ComputeChecksums",  # once more, of what is handed out
    "nbgrader.preprocessors.CheckCellMetadata",
    "course.authoring.build.CodeFolded",
    "course.authoring.placeholder_outputs.NotRunningYet",
]
c.ClearSolutions.text_stub = "*Your answer stands here once it was handed in and judged.*"

# From submitted/ to autograded/: first the hand-in is made whole and harmless, then it is judged.
c.Autograde.exporter_class = "graders.nbgrader_bridge.HandInExporter"
c.Autograde.sanitize_preprocessors = [
    "nbgrader.preprocessors.ClearOutput",
    "graders.nbgrader_bridge.MarksAsReleased",  # from here on all marks are the gradebook's own
    "nbgrader.preprocessors.DeduplicateIds",
    "graders.nbgrader_bridge.EmptiedMarksRemoved",
    "graders.nbgrader_bridge.MissingCellsPutBack",  # before OverwriteCells, whose own way fails behind locked cells
    "nbgrader.preprocessors.OverwriteKernelspec",
    "nbgrader.preprocessors.OverwriteCells",
    "graders.nbgrader_bridge.NotesInert",
]
c.Autograde.autograde_preprocessors = [
    "graders.nbgrader_bridge.Judge",
    "graders.nbgrader_bridge.CodeInBox",  # an instructor's own lessons with code to run; the course's own run none
    "nbgrader.preprocessors.LimitOutput",
    "nbgrader.preprocessors.SaveAutoGrades",
    "graders.nbgrader_bridge.AskForPerson",  # behind SaveAutoGrades, which clears that mark
    "nbgrader.preprocessors.AssignLatePenalties",
]
c.OverwriteCells.add_missing_cells = True
c.Judge.engines = str(course.ENGINES)
c.Judge.submitted_directory = "submitted"

# From autograded/ to feedback/: the learner's page, self-contained; and the marking screen, which sanitises too.
c.GenerateFeedback.exporter_class = "graders.nbgrader_bridge.FeedbackPageExporter"
c.GenerateFeedback.preprocessors = [
    "graders.nbgrader_bridge.MarksForPage",
    "graders.nbgrader_bridge.HiddenTestsLeftOut",
]
c.HTMLExporter.sanitize_html = True
c.HTMLExporter.mathjax_url = ""
c.HTMLExporter.require_js_url = ""
c.HTMLExporter.jquery_url = ""

# From downloaded/LESSON/archive/ to submitted/ by the command `collect`, or by nbgrader's own zip_collect: the archives
# that `hand-in` makes, LEARNER--LESSON--TIME.zip. Of several of one learner the newest counts. What a school's system
# sets before the name stays in it: the class list, or the name in the evidence, says whose it is.
# An archive that would unpack without end or outside its folder is left alone, and the class run says so.
c.ZipCollectApp.extractor_plugin = "graders.nbgrader_bridge.ArchiveExtractor"
c.ZipCollectApp.collector_plugin = "graders.nbgrader_bridge.ArchiveCollector"
c.FileNameCollectorPlugin.named_regexp = (
    r".*[\\/]extracted[\\/](?:.*[\\/])?(?P<student_id>[^\\/]+?)--(?P<lesson>l\d\d_\w+?)--(?P<timestamp>\d{8}T\d{6}Z)"
    r"[^\\/]*[\\/](?:(?P=lesson)[\\/])?(?P<file_id>[^\\/]+)$"
)
c.FileNameCollectorPlugin.valid_ext = [".ipynb", ".jsonl", ".toml"]
