package main

import (
	"bytes"
	"database/sql"
	"fmt"
	netmail "net/mail"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

func ints(t *testing.T, db *sql.DB, query string) (out []int64) {
	t.Helper()
	for _, line := range told(t, db, query) {
		var n int64
		if _, err := fmt.Sscan(line, &n); err != nil {
			t.Fatal(err)
		}
		out = append(out, n)
	}
	return out
}

// told is a query's rows, each a line of its columns.
func told(t *testing.T, db *sql.DB, query string) (out []string) {
	t.Helper()
	rows, err := db.QueryContext(t.Context(), query)
	if err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	defer rows.Close()
	names, err := rows.Columns()
	if err != nil {
		t.Fatal(err)
	}
	for rows.Next() {
		cells := make([]any, len(names))
		for i := range cells {
			cells[i] = new(sql.NullString)
		}
		if err := rows.Scan(cells...); err != nil {
			t.Fatal(err)
		}
		var line []string
		for _, c := range cells {
			line = append(line, c.(*sql.NullString).String)
		}
		out = append(out, strings.Join(line, "\t"))
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return out
}

// nothingRewritten holds what is written down for good against what stood there before.
func (s *storm) nothingRewritten() {
	s.t.Helper()
	db := s.behind()
	defer db.Close()
	var now []string
	for _, query := range []string{
		"SELECT id, subject, subject_id, what, from_state, to_state, actor, at, detail FROM history ORDER BY id",
		"SELECT id, key, booking_id, cents, method FROM payments ORDER BY id",
		"SELECT id, entry_id, account, subject, cents FROM ledger_lines ORDER BY id",
	} {
		now = append(now, told(s.t, db, query)...)
	}
	have := map[string]bool{}
	for _, line := range now {
		have[line] = true
	}
	for _, line := range s.past {
		if !have[line] {
			s.t.Errorf("what was written down has changed or is gone: %s", line)
		}
	}
	s.past = now
}

// afterwards holds the records against what the customers and the provider know.
func (s *storm) afterwards(stormed time.Duration, customers int) {
	t := s.t
	t.Helper()
	st := s.open()
	defer st.Close()
	sound(t, st)
	db := s.behind()
	defer db.Close()

	for _, line := range told(t, db, `SELECT c.code, c.seats, count(s.id) FROM classes c LEFT JOIN seats s ON s.class_id = c.id AND s.kind <> 'watch' AND s.state IN ('held', 'offered', 'firm', 'came', 'missed')
		GROUP BY c.id, c.code, c.seats HAVING count(s.id) > c.seats`) {
		t.Errorf("oversold: %s", line)
	}
	s.bookingsStand(db)
	s.stepsFollowTheTable(db)
	late := s.moneyStands(db)
	refunds := s.providerAgrees(db)
	mails := s.messagesOnce(db)
	for _, w := range s.town.faults.wrong {
		t.Error(w)
	}
	faults := s.town.wentWrong()
	for _, never := range []string{"more asked back than was paid", "a key used for two questions"} {
		if faults[never] > 0 {
			t.Errorf("the provider was asked for nonsense: %s, %d times", never, faults[never])
		}
	}
	r := &s.record
	t.Logf("%s of storm, %d customers, program killed %d times; %d requests, sent anew %d times", stormed, customers, s.kills, s.asked.Load(), s.again.Load())
	t.Logf("done: %v", r.did)
	t.Logf("%d bookings, %d payments in cash, %d online, %d of them returned at once, %d refunds, %d messages; faults: %v",
		len(r.booked), len(r.cash), len(s.town.took()), late, refunds, mails, faults)
	if few := s.tooLittle(); len(few) > 0 || refunds == 0 {
		t.Errorf("too little happened to prove anything: %v, %d refunds", few, refunds)
	}
}

// bookingsStand: every booking answered is there once, every other is a party put back on
// the waiting list for paying too late, and every leaving, move and offer counted once.
func (s *storm) bookingsStand(db *sql.DB) {
	t := s.t
	t.Helper()
	r := &s.record
	tooLate := map[string]bool{}
	for _, mail := range told(t, db, "SELECT DISTINCT b.payer_email FROM bookings b JOIN payments p ON p.booking_id = b.id WHERE p.note = 'came after the seats were let go'") {
		tooLate[mail] = true
	}
	number, stands := map[int64]int{}, map[int]string{}
	for _, line := range told(t, db, "SELECT id, number, state, payer_email FROM bookings") {
		f := strings.Split(line, "\t")
		var id int64
		var n int
		if _, err := fmt.Sscan(f[0]+" "+f[1], &id, &n); err != nil {
			t.Fatal(err)
		}
		number[id], stands[n] = n, f[2]
		who, answered := r.booked[n]
		switch {
		case answered && f[3] != who+"@post.example.test":
			t.Errorf("K%d was given to %s and stands for %s", n, who, f[3])
		case !answered && !tooLate[f[3]]:
			t.Errorf("K%d of %s stands there and nobody was told of it", n, f[3])
		}
	}
	for n, who := range r.booked {
		if stands[n] == "" {
			t.Errorf("K%d of %s is lost", n, who)
		}
	}
	moves, goings, offers := map[int]int{}, map[int]int{}, map[int]int{}
	for _, line := range told(t, db, "SELECT subject_id, what, actor FROM history WHERE subject = 'booking' AND what IN ('moved', 'let go', 'offer taken')") {
		f := strings.Split(line, "\t")
		var id int64
		if _, err := fmt.Sscan(f[0], &id); err != nil {
			t.Fatal(err)
		}
		n := number[id]
		byPayer := f[2] == "payer of "+shop.Booking{Number: n}.Ref()
		switch {
		case f[1] == "moved":
			moves[n]++
		case f[1] == "let go" && byPayer:
			goings[n]++
		case f[1] == "offer taken" && byPayer:
			offers[n]++
		}
	}
	for n := range r.booked {
		if moves[n] != r.moved[n] {
			t.Errorf("K%d moved %d times, %d were answered", n, moves[n], r.moved[n])
		}
		// A place on the waiting list that is given up is let go without being a leaving.
		if goings[n] < r.left[n] {
			t.Errorf("K%d was let go %d times, %d were answered", n, goings[n], r.left[n])
		}
		if offers[n] > 1 || r.offers[n] && offers[n] == 0 {
			t.Errorf("K%d took its offer %d times", n, offers[n])
		}
	}
	gone := map[int64]bool{}
	for _, id := range ints(t, db, "SELECT id FROM seats WHERE state = 'let go'") {
		gone[id] = true
	}
	for _, id := range r.seats {
		if !gone[id] {
			t.Errorf("seat %d was let go and still stands", id)
		}
	}
}

// stepsFollowTheTable: states change along the table and in no other way.
func (s *storm) stepsFollowTheTable(db *sql.DB) {
	for _, line := range told(s.t, db, "SELECT DISTINCT what, from_state, to_state FROM history WHERE subject = 'booking'") {
		f := strings.Split(line, "\t")
		from, to := shop.BookingState(f[1]), shop.BookingState(f[2])
		known := func(b shop.BookingState) bool { return slices.Contains(shop.BookingMoves.States, b) }
		if known(from) && known(to) && from != to && !shop.BookingMoves.May(from, to) {
			s.t.Errorf("%s took a booking from %q to %q", f[0], from, to)
		}
	}
}

// moneyStands: cash handed over is in the books once, and what all people together paid is
// what went back, what they have left, and what the shop kept. It returns how many payments
// went straight back.
func (s *storm) moneyStands(db *sql.DB) (late int) {
	t := s.t
	t.Helper()
	var in unit.Money
	for _, h := range s.record.cash {
		in += h.cents
	}
	inBooks := map[string]string{}
	for _, line := range told(t, db, "SELECT p.key, coalesce(b.number, 0), p.cents FROM payments p LEFT JOIN bookings b ON b.id = p.booking_id WHERE p.method = 'cash' AND p.cents > 0") {
		key, rest, _ := strings.Cut(line, "\t")
		inBooks[key] = rest
		if _, answered := s.record.cash[key]; !answered {
			t.Errorf("cash nobody handed over: %s", line)
		}
	}
	for key, h := range s.record.cash {
		if want := fmt.Sprintf("%d\t%d", h.number, h.cents); inBooks[key] != want {
			t.Errorf("cash %s for K%d, %s, stands as %q", key, h.number, h.cents, inBooks[key])
		}
	}
	for _, k := range s.town.took() {
		in += unit.Money(k.cents)
	}
	sum := func(query string) unit.Money { return unit.Money(ints(t, db, "SELECT coalesce(sum("+query)[0]) }
	out := -sum("cents), 0) FROM payments WHERE cents < 0 AND method IN ('cash', 'online')")
	have := sum("paid_cents), 0) FROM bookings") + sum("left_cents), 0) FROM credits") + sum("left_cents), 0) FROM vouchers")
	if in-out != have {
		t.Errorf("%s came in and %s went back; bookings, credits and vouchers have %s, not %s", in, out, have, in-out)
	}
	if n := ints(t, db, "SELECT count(*) FROM payments WHERE method NOT IN ('cash', 'online', 'voucher', 'credit', 'to credit')")[0]; n > 0 {
		t.Errorf("%d payments in no way that anybody paid", n)
	}
	vouchers := ints(t, db, "SELECT count(*) FROM vouchers")[0]
	bought := ints(t, db, "SELECT count(*) FROM checkouts WHERE voucher_id > 0")[0]
	if int(vouchers) != len(s.record.vouchers)+int(bought) {
		t.Errorf("%d vouchers stand in the books; %d were sold at the counter, %d online", vouchers, len(s.record.vouchers), bought)
	}
	return int(ints(t, db, "SELECT count(*) FROM payments WHERE method = 'online' AND key LIKE '%/back'")[0])
}

// providerAgrees: each payment the provider took stands on its booking or voucher once, or
// went back once; what went back is the same here and there. It returns how many refunds.
func (s *storm) providerAgrees(db *sql.DB) int {
	t := s.t
	t.Helper()
	took := s.town.took()
	rows := map[string]int64{}
	for _, line := range told(t, db, "SELECT key, cents FROM payments WHERE method = 'online' AND (cents > 0 OR key LIKE 'checkout/%')") {
		key, cents, _ := strings.Cut(line, "\t")
		var n int64
		if _, err := fmt.Sscan(cents, &n); err != nil {
			t.Fatal(err)
		}
		rows[key] = n
	}
	counted := 0
	for ours, k := range took {
		key := "checkout/" + ours
		if rows[key] != int64(k.cents) {
			t.Errorf("the provider took %d cents for checkout %s, the books have %d", k.cents, ours, rows[key])
		}
		if back := rows[key+"/back"]; back != 0 && back != -int64(k.cents) || back != 0 && rows[key+"/over"] != 0 {
			t.Errorf("checkout %s: %d of %d cents went back at once, %d were too much", ours, -back, k.cents, -rows[key+"/over"])
		}
		for _, what := range []string{"", "/back", "/over"} {
			if _, ok := rows[key+what]; ok {
				delete(rows, key+what)
				counted++
			}
		}
	}
	for key, cents := range rows {
		t.Errorf("%s: %d cents online that the provider knows nothing of", key, cents)
	}
	for _, line := range told(t, db, "SELECT k.id, k.state, k.ref, k.voucher_id, coalesce(b.number, 0) FROM checkouts k LEFT JOIN bookings b ON b.id = k.booking_id") {
		f := strings.Split(line, "\t")
		if _, paid := took[f[0]]; paid != (f[1] == "paid") {
			t.Errorf("checkout %s is %s here; the provider took its money: %t", f[0], f[1], paid)
		}
		if want, shown := s.record.pages[f[2]]; shown && fmt.Sprint(want) != f[4] {
			t.Errorf("the page %s was shown for K%d and counts for K%s", f[2], want, f[4])
		}
		if f[1] == "paid" && f[4] == "0" && (f[3] == "0" || f[3] == "") {
			if n := ints(t, db, "SELECT count(*) FROM payments WHERE key = 'checkout/"+f[0]+"/back'")[0]; n != 1 {
				t.Errorf("checkout %s was paid, bought no voucher and went back %d times", f[0], n)
			}
		}
	}
	here, there := map[string]int{}, map[string]int{}
	for _, line := range told(t, db, "SELECT checkout_id, sum(cents) FROM refunds WHERE state = 'done' GROUP BY checkout_id") {
		id, cents, _ := strings.Cut(line, "\t")
		var n int
		if _, err := fmt.Sscan(cents, &n); err != nil {
			t.Fatal(err)
		}
		here[id] = n
	}
	s.town.mu.Lock()
	refunds := 0
	for _, b := range s.town.refunds {
		if b.status == "succeeded" {
			there[s.town.sessions[b.session].ours] += b.cents
			refunds++
		}
	}
	s.town.mu.Unlock()
	all := 0
	for id, cents := range there {
		all += cents
		if here[id] != cents || cents > took[id].cents {
			t.Errorf("checkout %s: the provider gave %d of %d cents back, the books say %d", id, cents, took[id].cents, here[id])
		}
		delete(here, id)
	}
	for id, cents := range here {
		t.Errorf("checkout %s: the books gave %d cents back, the provider nothing", id, cents)
	}
	if out := -ints(t, db, "SELECT coalesce(sum(cents), 0) FROM payments WHERE method = 'online' AND cents < 0")[0]; int(out) != all {
		t.Errorf("%d cents went back online by the ledger, %d at the provider", out, all)
	}
	for _, line := range told(t, db, `SELECT b.number, p.cents, r.cents FROM bookings b
		JOIN (SELECT booking_id, -sum(cents) AS cents FROM payments WHERE method = 'online' AND cents < 0 GROUP BY booking_id) p ON p.booking_id = b.id
		LEFT JOIN (SELECT booking_id, sum(cents) AS cents FROM refunds GROUP BY booking_id) r ON r.booking_id = b.id WHERE r.cents IS NULL OR r.cents <> p.cents`) {
		t.Errorf("a booking's refunds are not what its ledger gave back: K%s", line)
	}
	return refunds
}

// messagesOnce: every message sent lies there once under one Message-ID, and each fact that
// must be told has its message. It returns how many there are.
func (s *storm) messagesOnce(db *sql.DB) int {
	t := s.t
	t.Helper()
	files, err := filepath.Glob(filepath.Join(s.dir, "mail", "*.eml"))
	if err != nil {
		t.Fatal(err)
	}
	ids := map[string]string{}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		m, err := netmail.ReadMessage(bytes.NewReader(b))
		if err != nil {
			t.Fatalf("%s: %v", f, err)
		}
		id := m.Header.Get("Message-Id")
		if was, twice := ids[id]; id == "" || twice {
			t.Errorf("%s and %s have the Message-ID %q", f, was, id)
		}
		ids[id] = f
	}
	if sent := ints(t, db, "SELECT count(*) FROM notices WHERE state = 'sent'")[0]; int(sent) > len(files) {
		t.Errorf("%d messages are noted as sent, %d were", sent, len(files))
	}
	// One that left and was called off before that could be noted may lie there besides.
	if made := ints(t, db, "SELECT count(*) FROM notices WHERE state IN ('sent', 'cancelled')")[0]; int(made) < len(files) {
		t.Errorf("%d messages were sent, only %d were ever written", len(files), made)
	}
	for what, query := range map[string]string{
		"firm bookings without one confirmation": `SELECT b.number, count(n.id) FROM bookings b LEFT JOIN notices n ON n.key = 'booked/' || b.number WHERE b.firm_at > 0 GROUP BY b.number HAVING count(n.id) <> 1`,
		"confirmations of nothing":               `SELECT n.key FROM notices n LEFT JOIN bookings b ON n.key = 'booked/' || b.number WHERE n.kind = 'booked' AND (b.id IS NULL OR b.firm_at = 0)`,
		"money that went back without a word":    `SELECT p.key FROM payments p LEFT JOIN notices n ON n.key = 'returned/' || substr(p.key, 1, length(p.key) - 5) WHERE p.method = 'online' AND p.key LIKE '%/back' AND n.id IS NULL`,
		"credits nobody was told of":             `SELECT c.id FROM credits c LEFT JOIN notices n ON n.key = 'credit/' || c.id WHERE n.id IS NULL`,
		"vouchers nobody was told of":            `SELECT v.id FROM vouchers v LEFT JOIN notices n ON n.key = 'voucher-sold/' || v.id WHERE v.buyer_email <> '' AND n.id IS NULL`,
	} {
		if found := told(t, db, query); len(found) > 0 {
			t.Errorf("%s: %v", what, found)
		}
	}
	left, err := filepath.Glob(filepath.Join(s.dir, "mail", ".writing-*"))
	if err != nil {
		t.Fatal(err)
	}
	if len(left) > 0 {
		t.Errorf("killed programs left %v behind: what they wrote was sent again, and half a file stayed", left)
	}
	return len(files)
}
