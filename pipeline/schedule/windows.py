"""Windows: a task of the Task Scheduler, as its XML schema 1.2 has it; by the computer's clock."""

from datetime import datetime
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from pipeline.schedule.task import Task

_SCHEMA = "http://schemas.microsoft.com/windows/2004/02/mit/task"


def document(task: Task, first: datetime) -> str:
    """Return the task as XML; `first` is its next run by the computer's clock."""
    root = Element("Task", version="1.2", xmlns=_SCHEMA)
    SubElement(SubElement(root, "RegistrationInfo"), "Description").text = f"Weekly run of {task.plant}"
    trigger = SubElement(SubElement(root, "Triggers"), "CalendarTrigger")
    SubElement(trigger, "StartBoundary").text = f"{first:%Y-%m-%dT%H:%M:00}"
    weekly = SubElement(trigger, "ScheduleByWeek")
    SubElement(weekly, "WeeksInterval").text = "1"
    SubElement(SubElement(weekly, "DaysOfWeek"), f"{first:%A}")
    settings = SubElement(root, "Settings")
    for name, text in (
        ("MultipleInstancesPolicy", "IgnoreNew"),
        ("DisallowStartIfOnBatteries", "false"),
        ("StopIfGoingOnBatteries", "false"),
        ("StartWhenAvailable", "true"),  # a run that was missed is made up for
        ("ExecutionTimeLimit", "PT12H"),
    ):
        SubElement(settings, name).text = text
    action = SubElement(SubElement(root, "Actions"), "Exec")
    SubElement(action, "Command").text = "cmd.exe"
    SubElement(action, "Arguments").text = _arguments(task)
    SubElement(action, "WorkingDirectory").text = str(task.folder)
    indent(root)
    return '<?xml version="1.0" encoding="UTF-16"?>\n' + tostring(root, encoding="unicode") + "\n"


def _arguments(task: Task) -> str:
    """Return what cmd.exe is given: it takes off the outer quotes, and adds to the log what the run says."""
    command = " ".join(f'"{word}"' for word in task.command)
    return f'/d /s /c "{command} >> "{task.log}" 2>&1"'
