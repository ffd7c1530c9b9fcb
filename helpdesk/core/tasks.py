"""What the worker runs; each takes ids and calls a service."""

from celery import shared_task

from helpdesk.core import jobs


@jobs.regular_round("full-buckets")
def remove_full_buckets() -> None:
    """Delete the limits' rows that say nothing any more."""
    from helpdesk.core import limits

    limits.remove_full_buckets()


@jobs.regular_round("write-ahead-log")
def empty_write_ahead_log() -> None:
    """Empty the embedded database's log."""
    from helpdesk.core import database

    database.empty_write_ahead_log()


@shared_task
def run_job_task(job_id: int) -> None:
    """Do one job."""
    jobs.run_job(job_id)


@shared_task
def resend_stale_jobs() -> None:
    """Send hints again for work that was not done."""
    jobs.resend_stale_jobs()


@shared_task
def run_rounds() -> None:
    """Call the regular rounds."""
    jobs.run_rounds()
