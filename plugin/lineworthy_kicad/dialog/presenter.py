# SPDX-License-Identifier: MIT
"""What the dialog does. Knows the host's and the view's promises, no widgets and no editor."""

from __future__ import annotations

import contextlib
import datetime
import threading
import traceback
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Callable, Optional

from lineworthy import concessions, sheet
from lineworthy.amend import Amendment, Offer, overrun
from lineworthy.concessions import Concession
from lineworthy.errors import InputError, LineworthyError
from lineworthy.files import write_atomic
from lineworthy.finding import Consequence
from lineworthy.report import FORMATS
from lineworthy.report.facts import Numbered
from lineworthy.review import Review
from lineworthy.safe import visible
from lineworthy.sheet import TIERS
from lineworthy_kicad.dialog import shown as show
from lineworthy_kicad.dialog.contract import ConcessionForm, InsertForm, ReportForm, View
from lineworthy_kicad.dialog.reading import (
    Limits,
    Outcome,
    Planner,
    read_and_review,
    review_board,
    with_concessions,
)
from lineworthy_kicad.dialog.settings import Settings, Store
from lineworthy_kicad.dialog.shown import Filter, Shown
from lineworthy_kicad.dialog.wording import many, reason, summary
from lineworthy_kicad.dialog.worker import Result, Runner, Tell, Worker
from lineworthy_kicad.hosts.host import Applied, DocumentText, Host, HostError

FROM_FILE = "from a file..."
OUTDATED = "Nothing was inserted: the board has changed since its review. These are its findings now; insert again."


class Presenter:
    """One dialog over one board.

    Args:
        host: the place the board lives in; called on the main thread, for editors' bindings want no other. A host
            with a true attribute `any_thread` is asked for its document in the background; one with a true attribute
            `is_prompt` hands it over sooner than a person could notice.
        view: the window.
        store: what is remembered between two openings.
        runner: runs a job beside the main thread.
        planner: finds what can be inserted.
        today: the date a concession is given.
        reviewed: told of every review, once it is shown.
    """

    def __init__(
        self,
        host: Host,
        view: View,
        store: Store,
        runner: Runner,
        planner: Planner,
        *,
        today: Callable[[], datetime.date] = datetime.date.today,
        reviewed: Callable[[Review], None] = lambda review: None,
    ) -> None:
        self._host, self._view, self._store, self._planner, self._today = host, view, store, planner, today
        self._on_reviewed = reviewed
        self._worker = Worker(runner, view.post)
        self._settings: Settings = store.load()
        self._limits = Limits("standard", sheet.built_in())
        self._document: Optional[DocumentText] = None
        self._outcome: Optional[Outcome] = None
        self._shown: Optional[Shown] = None
        self._filter = Filter()
        self._selected = 0
        self._inserted: tuple[Applied, ...] = ()
        self._is_outdated = False
        self._sheet_caution: tuple[str, ...] = ()
        self._wanted: Optional[object] = None
        self._gate = threading.Lock()

    # -- opening, reading, closing

    def open(self) -> None:
        """Starts the first review; returns before the board is read, so that the window comes up at once."""
        try:
            self._limits = Limits(self._settings.sheet, sheet.load(self._settings.sheet))
        except LineworthyError as error:
            self._sheet_caution = (f"Reviewed against the standard sheet: {error}",)
            self._remember(sheet="standard", sheet_file="")
        self._show_sheets()
        self.review_again()

    def review_again(self) -> None:
        """Reads the board again and reviews it."""
        self._stop()
        wanted = self._wanted = object()
        self._view.show_progress(0.0, f"Reading {visible(self._host.title)}")
        if self._host_is("any_thread") or self._host_is("is_prompt"):
            self._read(wanted)
        else:
            self._view.after_paint(lambda: self._read(wanted))

    def _read(self, wanted: object) -> None:
        if wanted is not self._wanted:
            return  # cancelled, closed, or asked for again before the window was painted
        limits, today = self._limits, self._today()
        if self._host_is("any_thread"):
            self._start(lambda tell: self._read_beside(tell, limits, today), self._reviewed)
            return
        try:
            with self._asking():
                document = self._host.document()
        except Exception as error:  # a binding may raise anything; the window must live
            self._failed(error)
            return
        self._start(lambda tell: read_and_review(document, limits, today, tell), self._reviewed)

    def _host_is(self, trait: str) -> bool:
        return bool(getattr(self._host, trait, False))

    def _read_beside(self, tell: Tell, limits: Limits, today: datetime.date) -> Outcome:
        """Reads in the background, where the host allows it: a large board takes seconds to be handed over."""
        return read_and_review(self._document_beside(tell), limits, today, tell)

    def _document_beside(self, tell: Tell) -> DocumentText:
        with self._gate:
            tell(0.0, f"Waiting for {visible(self._host.title)}")
            return self._host.document()

    @contextlib.contextmanager
    def _asking(self) -> Iterator[None]:
        """Around every call of the host on the main thread: never two at a time, and never a wait."""
        if not self._gate.acquire(blocking=False):
            raise HostError("the editor is still handing over the board: try again in a moment")
        try:
            yield
        finally:
            self._gate.release()

    def cancel(self) -> None:
        """Stops the work that goes on."""
        self._stop()
        self._inserted, self._is_outdated = (), False
        if self._shown is None:
            self._view.show_stopped("Cancelled before the review was done.")
        else:
            self._show_before()
            self._say("Cancelled: these are the findings from before.")

    def close(self) -> None:
        """The person is done."""
        self._stop()
        if hasattr(self._host, "leave"):
            with contextlib.suppress(Exception):  # what it cannot put back must not keep the window open
                self._host.leave()
        self._remember(layout=self._view.layout())
        self._view.close()

    # -- what a review brings

    def _reviewed(self, outcome: Outcome) -> None:
        before = self._shown
        self._take(outcome)
        self._show_sheets()
        self._show_review(before)
        if self._inserted:
            self._show_inserted(before)
        elif self._is_outdated:
            self._complain(OUTDATED)
        self._is_outdated = False
        self._on_reviewed(outcome.review)

    def _show_before(self) -> None:
        """The findings that stay when work comes to nothing, and the sheet they are held against."""
        self._show_sheets()
        self._show_review()

    def _take(self, outcome: Outcome) -> None:
        if outcome.limits.is_chosen and outcome.limits is not self._limits:
            self._use(outcome.limits)
        self._outcome, self._document, self._shown = outcome, outcome.document, Shown.of(outcome.review)

    def _show_review(self, before: Optional[Shown] = None) -> None:
        """Brings everything on screen; the same finding stays selected."""
        assert self._shown is not None
        assert self._outcome is not None
        kept = self._same_finding(before or self._shown)
        self._view.show_review(
            show.headline(self._shown, self._outcome.document.name, (*self._sheet_caution, *self._outcome.cautions)),
            show.not_run_lines(self._shown.review),
            show.concession_lines(self._shown),
        )
        self._show_rows()
        self.select(kept)
        self._view.select(kept)

    def _same_finding(self, before: Shown) -> int:
        """Number that the finding selected in an earlier review has now; 0 when it is gone."""
        assert self._shown is not None
        old = before.find(self._selected)
        same = [i.number for i in self._shown.items if old and i.finding.fingerprint == old.finding.fingerprint]
        return same[0] if same else 0

    def _show_rows(self) -> None:
        assert self._shown is not None
        assert self._outcome is not None
        items = [item for item in self._shown.items if self._filter.passes(item)]
        all_of_them = len(items) == len(self._shown.items)
        count = many(len(items), "finding") if all_of_them else f"{len(items)} of {len(self._shown.items)} findings"
        self._view.show_rows(show.rows(items), count)
        self._view.show_maps([show.side_map(picture, items) for picture in self._outcome.pictures])

    def filter(self, consequences: frozenset[Consequence], conceded: bool, area: str, words: str) -> None:
        """Restricts the list and the flags on the map."""
        self._filter = Filter(consequences, conceded, area, words)
        if self._shown is None:
            return
        self._show_rows()
        chosen = self._shown.find(self._selected)
        if chosen is not None and self._filter.passes(chosen):
            self._view.select(self._selected)
        else:
            self.select(0)

    def select(self, number: int) -> None:
        """A finding was chosen; 0 for none."""
        item = self._shown.find(number) if self._shown else None
        self._selected = number if item else 0
        if item is None or self._shown is None:
            self._view.show_detail(None)
            return
        detail = show.detail(item, self._shown.review)
        self._view.show_detail(detail)
        self._view.centre(detail.places)

    def show_on_board(self) -> None:
        """Shows the items of the selected finding in the editor."""
        item = self._chosen()
        if item is None:
            return
        if not item.finding.uids:
            self._say(f"Finding {item.number} is about the board as a whole: there is no item to show.")
            return
        try:
            with self._asking():
                found = self._host.show(item.finding.uids)
        except Exception as error:
            self._complain(f"Not shown: {reason(error)}")
            return
        if found:
            self._say(f"Finding {item.number} is shown in the editor.")
        else:
            self._complain(f"Nothing of finding {item.number} is on the board any more: review again.")

    # -- concessions

    def concede(self) -> None:
        """Records a concession for the selected finding, or withdraws the one it has."""
        item, path = self._chosen(), self._ledger()
        if item is None or self._shown is None:
            return
        if path is None:
            self._complain("Save the board first: concessions are kept in a file beside it.")
        elif item.concession is not None:
            self._withdraw(item, item.concession, path)
        else:
            self._ask_concession(item, path)

    def _withdraw(self, item: Numbered, given: Concession, path: Path) -> None:
        question = f"Withdraw the concession {given.name} gave on {given.date.isoformat()}: {given.reason}"
        if self._view.confirm(visible(question), "Withdraw"):
            self._change_ledger(
                lambda: concessions.withdraw(path, [given.key]), path, f"Finding {item.number} counts again."
            )

    def _ask_concession(self, item: Numbered, path: Path) -> None:
        assert self._shown is not None
        revision = self._shown.review.revision
        day = self._today()
        form = self._view.ask_concession(
            ConcessionForm(
                finding=visible(item.finding.message),
                revision=visible(revision),
                date=day.isoformat(),
                file=visible(path.name),
                name=self._settings.name,
            )
        )
        if form is None:
            return
        if not form.is_complete:
            self._complain("Not conceded: it needs a name, a reason, and a last day that is not over, if any.")
            return
        name, why = form.name.strip(), form.reason.strip()
        self._remember(name=name)
        holds_for = None if form.expiry else revision
        given = Concession.of(item.finding, why, name, day, revision=holds_for, expires=form.expiry)
        said = f"Finding {item.number} is conceded ({path.name})."
        self._change_ledger(lambda: concessions.grant(path, [given]), path, said)

    def _change_ledger(self, change: Callable[[], None], path: Path, said: str) -> None:
        assert self._outcome is not None
        before = self._shown
        try:
            change()
            self._take(with_concessions(self._outcome, path))
        except InputError as error:
            self._complain(f"The concession file is as it was: {error}")
            return
        self._show_review(before)
        self._say(said)

    def _ledger(self) -> Optional[Path]:
        """The concession file; None for a board that was never saved."""
        path = self._document.path if self._document else ""
        return concessions.beside(Path(path)) if path else None

    # -- inserting

    def insert(self) -> None:
        """Looks for what can be inserted, and offers it."""
        if self._shown is None:
            return
        result = self._shown.review
        self._view.show_progress(0.0, "Looking for room on the board")
        self._start(lambda tell: self._planner.offer(result, tell), self._offer)

    def _offer(self, offer: Offer) -> None:
        assert self._shown is not None
        assert self._outcome is not None
        self._show_review()
        cannot = tuple(visible(f"{refusal.wanted}: {refusal.reason}") for refusal in offer.refusals)
        if not offer.amendments:
            self._say("; ".join(("Nothing to insert", *cannot)) + ".")
            return
        maps = [show.side_map(picture, ()) for picture in self._outcome.pictures]
        form = InsertForm(
            offers=tuple(visible(amendment.title) for amendment in offer.amendments),
            cures=tuple(visible(finding.message) for finding in offer.proof.gone),
            cannot=cannot,
            maps=tuple(show.with_ghosts(side, offer.amendments) for side in maps),
        )
        chosen = tuple(offer.amendments[n] for n in self._view.ask_insert(form))
        if not chosen:
            self._say("Nothing inserted.")
        elif chosen == offer.amendments:
            self._apply(chosen, ())  # proven when it was offered
        else:
            result = self._shown.review
            self._view.show_progress(0.0, "Reviewing the board with what would be inserted")
            self._start(
                lambda tell: self._planner.objections(result, chosen, tell),
                lambda objections: self._apply(chosen, objections),
            )

    def _apply(self, chosen: Sequence[Amendment], objections: Sequence[str]) -> None:
        """Inserts into the board that was reviewed: on another one, what was planned may lie on what is there now."""
        if objections:
            self._show_review()
            self._complain(visible("Not inserted: " + "; ".join(objections)))
        elif self._host_is("any_thread"):
            self._view.show_progress(0.0, f"Reading {visible(self._host.title)}")
            self._start(self._document_beside, lambda now: self._apply_to(now, chosen), self._not_inserted)
        else:
            try:
                with self._asking():
                    now = self._host.document()
            except Exception as error:
                self._not_inserted(error)
                return
            self._apply_to(now, chosen)

    def _apply_to(self, now: DocumentText, chosen: Sequence[Amendment]) -> None:
        assert self._document is not None
        self._is_outdated = now.text != self._document.text
        if not self._is_outdated:
            try:
                with self._asking():
                    self._inserted = self._host.apply(chosen, f"Lineworthy: insert {summary(chosen)}")
            except Exception as error:
                self._not_inserted(error)
                return
        self.review_again()

    def _not_inserted(self, error: BaseException) -> None:
        self._show_review()
        self._complain(f"Nothing was inserted: {reason(error)}")

    def _show_inserted(self, before: Optional[Shown]) -> None:
        """Selects in the editor what was inserted, and says what it changed."""
        inserted, self._inserted = self._inserted, ()
        amendments = [applied.amendment for applied in inserted]
        said = f"Inserted {summary(amendments)}; one Undo in the editor takes it back."
        if before:
            said += f" Before: {before.verdict}"
        if self._shown and overrun(self._shown.review.board, amendments):
            said += " Pours still run through what is new: fill all zones in the editor, then review again."
        try:
            with self._asking():
                self._host.show([applied.uid for applied in inserted])
        except Exception as error:
            said += f" Not shown: {reason(error)}"
        self._say(said)

    # -- report and sheet

    def write_report(self) -> None:
        """Writes a report where the person wants it."""
        if self._shown is None or self._document is None:
            return
        beside = str(Path(self._document.path).parent) if self._document.path else ""
        form = ReportForm(
            folder=self._settings.report_folder or beside or str(Path.home()),
            name=Path(self._document.name).stem or "board",
            formats=tuple((name, made.suffix) for name, made in FORMATS.items()),
            format=self._settings.report_format if self._settings.report_format in FORMATS else "html",
        )
        answer = self._view.ask_report(form)
        if answer is None:
            return
        path, name = Path(answer[0]), answer[1]
        try:
            write_atomic(path, FORMATS[name].render(self._shown.review))
        except InputError as error:
            self._complain(f"No report was written: {error}")
            return
        self._remember(report_format=name, report_folder=str(path.parent))
        self._say(f"Report written: {path}.")

    def choose_sheet(self, position: int) -> None:
        """Takes another capability sheet and reviews the board that was read against it."""
        names = self._sheet_sources()
        source: Optional[str] = names[position] if position < len(names) else self._view.ask_sheet()
        try:
            limits = None if source is None else Limits(source, sheet.load(source), is_chosen=True)
        except LineworthyError as error:
            self._complain(f"The sheet stays as it was: {error}")
            limits = None
        if limits is not None and self._outcome is not None:
            document, board, today = self._outcome.document, self._outcome.review.board, self._today()
            self._view.show_progress(0.0, f"Reviewing against sheet {visible(limits.sheet.name)}")
            self._start(lambda tell: review_board(document, board, limits, today, tell), self._reviewed)
            return
        if limits is not None:
            self._use(limits)
        self._show_sheets()

    def _use(self, limits: Limits) -> None:
        """Takes a sheet that a person chose, now and the next time."""
        self._limits, self._sheet_caution = limits, ()
        kept = self._settings.sheet_file if limits.source in TIERS else limits.source
        self._remember(sheet=limits.source, sheet_file=kept)

    def _sheet_sources(self) -> tuple[str, ...]:
        files = (self._settings.sheet_file, self._outcome.limits.source if self._outcome else "")
        return tuple(dict.fromkeys((*TIERS, *filter(None, files))))

    def _show_sheets(self) -> None:
        sources = self._sheet_sources()
        names = [visible(source if source in TIERS else Path(source).name) for source in sources]
        used = self._limits if self._limits.is_chosen or self._outcome is None else self._outcome.limits
        chosen = sources.index(used.source) if used.source in sources else TIERS.index("standard")
        self._view.show_sheets([*names, FROM_FILE], chosen)

    # -- helpers

    def _stop(self) -> None:
        self._wanted = None
        self._worker.stop()

    def _start(
        self,
        work: Callable[[Tell], Result],
        done: Callable[[Result], None],
        failed: Optional[Callable[[BaseException], None]] = None,
    ) -> None:
        self._worker.start(work, done, failed or self._failed, self._view.show_progress)

    def _failed(self, error: BaseException) -> None:
        """Work came to nothing: findings from before stay, with the reason; without any, only the reason."""
        self._inserted, self._is_outdated = (), False
        if self._shown is not None:
            self._show_before()
            self._complain(f"{reason(error).rstrip('.')}. These are the findings from before.")
            return
        is_fault = not isinstance(error, LineworthyError)
        details = "".join(traceback.format_exception(type(error), error, error.__traceback__)) if is_fault else ""
        self._view.show_stopped(reason(error), details)

    def _chosen(self) -> Optional[Numbered]:
        item = self._shown.find(self._selected) if self._shown else None
        if item is None:
            self._say("Choose a finding first.")
        return item

    def _remember(self, **changes: object) -> None:
        self._settings = replace(self._settings, **changes)  # type: ignore[arg-type]
        self._store.save(self._settings)

    def _say(self, line: str) -> None:
        self._view.show_status(visible(line))

    def _complain(self, line: str) -> None:
        self._view.show_status(visible(line), is_error=True)
