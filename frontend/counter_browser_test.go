package frontend

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/frontend/browsertest"
	"flitchbook/planner/unit"
)

// The counter on its tablet and on a phone: nothing too wide, nothing too small to press,
// nothing a screen reader stumbles over (WCAG 2.2 AA).
func TestCounterInABrowser(t *testing.T) {
	w := counter(t)
	w.class("B9", "bacon", "2026-12-12 13:00")
	w.Go("2026-10-20 12:00")
	w.done("/staff/classes/B5/book", "name", "Nerys P.", "phone", "555 0142", "seats", "2", "names", "Eskil, 12", "note", "stairs are hard", "do", "book", "once", "a")
	party := w.bought("D3", "Cordelia V.", 6)
	w.bought("B5", "Perpetua Llewellyn-Anstruther", 8)
	w.done("/staff/classes/B5/book", "name", "Gwilym T.", "seats", "1", "do", "wait", "once", "d")
	path := fmt.Sprintf("/staff/bookings/%d", party.Number)
	person := func(i int) string { return fmt.Sprintf("%s/people/%d", path, party.People[i].GuestID) }
	w.done(person(1)+"/needs", "state", "list", "need", "sesame", "severe", "sesame")
	w.done(person(2)+"/needs", "state", "none")
	w.done(person(3)+"/name", "name", "Linus", "age", "17")
	w.done("/staff/vouchers", "kind", "bacon/10500", "name", "Ulla B.", "receiver", "Dad", "method", "cash", "once", "v")
	w.done("/staff/vouchers", "kind", "money", "amount", "50", "name", "Ulla B.", "method", "cash", "once", "w")
	if _, err := w.AskPrivate(w.Ctx, shop.NewQuote{Offer: 1, Day: unit.DayOf(2026, 11, 6), Heads: 20, Name: "Wren P.", Email: "wren@post.example.test"}, store.Once{Key: "q"}); err != nil {
		t.Fatal(err)
	}
	b := browsertest.Start(t, w.e)
	look := func(name, path string) {
		t.Helper()
		b.On(t, name, path, 48, []browsertest.Screen{browsertest.Phone, browsertest.Tablet}, func(_ *testing.T, tab *browsertest.Tab) {
			if name != "review" { // a page of the desk, with links in its lines
				tab.Target("main", 48)
			}
		})
	}
	look("classes", "/staff/classes")
	look("book", "/staff/classes/B5/book")
	look("held", "/staff/bookings/1")
	look("booking", path)
	look("letgo", fmt.Sprintf("%s/letgo?show=1&seat=%d", path, party.People[4].SeatID))
	look("move", path+"/move?to=B9")
	look("person", person(1))
	look("find", "/staff/find?q=er")
	look("vouchers", "/staff/vouchers")
	look("private-asked", "/staff/private")
	look("answers", "/staff/answers")
	look("voucher", "/staff/vouchers/1")
	w.by = storetest.Odile
	look("person-data", fmt.Sprintf("/owner/people/%d", party.People[1].GuestID))
	look("payer-data", fmt.Sprintf("/owner/payers/%d", party.Number))
	look("review", "/owner/season/review?from=2026-10-01&to=2026-12-31")
	look("calloff", "/staff/classes/B5/calloff")
	look("moveclass", "/staff/classes/B5/move")
	w.by = storetest.Nadia
	w.Go("2026-10-29 18:05")
	w.done(fmt.Sprintf("/staff/classes/D3/seats/%d/came", party.People[0].SeatID))
	look("door", "/staff/classes/D3")

	// A finger at the door needs 20 mm the one way and finds the button by its edge the
	// other: 104 px of width at the 132 px an inch of a tablet.
	tab := b.Tab(t, browsertest.Tablet)
	tab.Open("/staff/classes/D3")
	tab.Target(".people .links", 74)
}

// A seat sold to somebody at the counter who pays by card, from the day's sheet on the
// tablet: four presses at most (people's own words: "in 4 taps"), counted by the browser,
// typing the name left out; every target 44 CSS pixels at least (WCAG 2.2, 2.5.5).
func TestSoldInFourPresses(t *testing.T) {
	w := counter(t)
	w.class("B9", "bacon", "2026-12-12 13:00")
	w.Go("2026-10-20 12:00")
	tab := browsertest.Start(t, w.e).Tab(t, browsertest.Tablet)
	presses := 0
	press := func(css, then string) {
		t.Helper()
		if small := browsertest.Eval[bool](tab, fmt.Sprintf(`(() => { const r = document.querySelector(%q).getBoundingClientRect(); return r.width < 44 || r.height < 44; })()`, css)); small {
			t.Errorf("%s is smaller than 44 × 44", css)
		}
		presses++
		tab.Do(chromedp.Click(chromedp.CSS(css)), chromedp.WaitVisible(chromedp.CSS(then)))
	}
	tab.Open("/staff/today")
	tab.Shot("today")
	tab.Fits()
	tab.Axe()
	tab.Target("main form, main .links", 44)
	press(`a[href="/staff/classes/B9/book"]`, `input[name="name"]`)
	press(`input[name="name"]`, `input[name="name"]:focus`)
	tab.Do(chromedp.KeyEvent("B"), chromedp.KeyEvent("o"))
	press(`button[value="book"]`, `button[value="card"]`)
	press(`button[value="card"]`, "main .badge.ok")
	if presses > 4 {
		t.Errorf("%d presses", presses)
	}
	last := w.list("B9")
	if len(last) != 1 || last[0].PayerName != "Bo" || last[0].State != shop.Firm || last[0].Paid != 105_00 || last[0].Owes != 0 {
		t.Fatalf("after %d presses: %+v", presses, last)
	}
	if lines, err := w.Payments(w.Ctx, last[0].ID); err != nil || len(lines) != 1 || lines[0].Method != "card" {
		t.Errorf("paid by %+v, %v", lines, err)
	}
	// And found again from the same sheet: by name, number and the end of a phone number.
	party := w.bought("D3", "Cordelia V.", 2) // telephone 555 0142
	for _, q := range []string{"cordel", party.Ref, fmt.Sprint(party.Number), "0142"} {
		tab.Open("/staff/today")
		tab.Do(chromedp.SendKeys(chromedp.CSS(`main input[name="q"]`), q), chromedp.Click(chromedp.CSS("main form[role=search] button")), chromedp.WaitVisible(chromedp.CSS("main [role=status]")))
		if got := browsertest.Eval[string](tab, `document.querySelector("main").innerText`); !strings.Contains(got, party.Ref+" Cordelia V.") {
			t.Errorf("%q finds: %s", q, got)
		}
	}
}
