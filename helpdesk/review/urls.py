"""Addresses of the queue and the case page."""

from django.urls import path

from helpdesk.review.views import case, queue, readings, weigh

app_name = "review"
urlpatterns = [
    path("queue", queue.queue, name="queue"),
    path("queue/next", queue.take_next, name="take_next"),
    path("cases/<int:number>", case.case, name="case"),
    path("cases/<int:number>/take", queue.claim, name="claim"),
    path("cases/<int:number>/put-back", queue.put_back, name="put_back"),
    path("cases/<int:number>/hand-on", case.hand_on, name="hand_on"),
    path("cases/<int:number>/facts", case.facts, name="facts"),
    path("cases/<int:number>/facts/read", case.read_facts, name="read_facts"),
    path("cases/<int:number>/finding", weigh.mark_finding, name="mark_finding"),
    path("cases/<int:number>/reading", readings.correct_reading, name="correct_reading"),
    path("cases/<int:number>/words", readings.note_words, name="note_words"),
    path("cases/<int:number>/verdict", weigh.verdict, name="verdict"),
    path("cases/<int:number>/numbers/<slug:fault>", weigh.numbers, name="numbers"),
    path("cases/<int:number>/respondent", weigh.respondent, name="respondent"),
    path("cases/<int:number>/ask", weigh.ask, name="ask"),
    path("cases/<int:number>/note", case.note, name="note"),
    path("cases/<int:number>/outcome", case.outcome, name="outcome"),
    path("cases/<int:number>/contact", case.reveal, name="reveal"),
    path("cases/<int:number>/close", case.close, name="close"),
    path("cases/<int:number>/reopen", case.reopen, name="reopen"),
]
