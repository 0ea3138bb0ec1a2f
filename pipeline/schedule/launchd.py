"""Launchd: an agent of the user's (launchd.plist(5)); a run slept through is made up for on waking."""

from datetime import datetime
from plistlib import dumps

from pipeline.schedule.task import Task


def agent(task: Task, first: datetime) -> bytes:
    """Return the agent's property list; `first` is its next run by the computer's clock."""
    return dumps(
        {
            "Label": task.name,
            "ProgramArguments": list(task.command),
            "WorkingDirectory": str(task.folder),
            "StartCalendarInterval": {
                "Weekday": first.isoweekday() % 7,  # 0 is Sunday
                "Hour": first.hour,
                "Minute": first.minute,
            },
            "StandardOutPath": str(task.log),
            "StandardErrorPath": str(task.log),
            "ProcessType": "Background",
        }
    )
