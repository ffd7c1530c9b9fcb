"""The bot in docs/hooks.md does what the page says."""

import http.server
import re
import threading
from pathlib import Path
from typing import Any

import pytest

from helpdesk.core.jobs import run_due_jobs
from helpdesk.hooks.announcing import send_test
from helpdesk.hooks.models import HookDelivery, HookTarget
from helpdesk.hooks.signing import read_secret, sign
from tests.helpdesk.hooks.conftest import Listen

DOCS = Path(__file__).resolve().parents[3] / "docs" / "hooks.md"


@pytest.mark.django_db
def test_bot_of_the_docs_takes_what_the_desk_sends(
    make_listener: Listen,
    settings: Any,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """It signs as the desk does, takes a trial message, and drops it when it comes again."""
    settings.INSIDE_HOSTS = ["127.0.0.1"]
    target = make_listener("http://127.0.0.1:1/")
    for name, value in (("DESK_URL", ""), ("OUT_SECRET", ""), ("IN_SECRET", target.secret)):
        monkeypatch.setenv(name, value)
    found = re.search(r"```python\n(.*?)```", DOCS.read_text(encoding="utf-8"), re.DOTALL)
    assert found
    bot: dict[str, Any] = {"__name__": "bot"}
    exec(found[1], bot)  # noqa: S102 - our own page
    server = http.server.HTTPServer(("127.0.0.1", 0), bot["Bot"])
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    try:
        HookTarget.objects.update(url=f"http://127.0.0.1:{server.server_port}/")
        delivery = send_test(HookTarget.objects.get())
        for _ in range(2):
            run_due_jobs()
            HookDelivery.objects.filter(attempts=1).update(state="waiting")
            from helpdesk.hooks.sending import deliver  # noqa: PLC0415 - beside its use

            deliver(delivery.pk)
    finally:
        server.shutdown()
        server.server_close()
        thread.join()

    delivery.refresh_from_db()
    assert (delivery.state, delivery.last_status) == ("sent", 204)
    assert capsys.readouterr().out.count("desk.test") == 1
    own = bot["sign"](target.secret, "msg_1", "1614265330", b"{}")
    key = read_secret(target.secret)
    assert own == sign(key, message_id="msg_1", timestamp=1614265330, body=b"{}")
