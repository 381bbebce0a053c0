package main

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"log/slog"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"flitchbook/planner/unit"
)

// decade fills a shop with ten years of classes long over: so many that no real shop has
// them, 200,000 bookings with as many slabs, a million steps, 1.4 million readings.
var decade = []string{
	"CREATE TEMP TABLE n AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 1400000) SELECT i FROM n",
	`INSERT INTO classes (id, code, kind_id, title, starts_at, ends_at, day, seats, seats_taken, state)
		SELECT 100000 + i, 'Y' || i, 1, 'Cure your own bacon', 1469000000 + i * 60000, 1469000000 + i * 60000 + 9000, date(1469000000 + i * 60000, 'unixepoch'), 40, 40, 'taught' FROM n WHERE i <= 5000`,
	`INSERT INTO bookings (id, number, class_id, state, source, payer_name, payer_email, seat_cents, total_cents, paid_cents, earned_cents, token_hash, slab_hash, created_at)
		SELECT 100000 + i, 100000 + i, 100001 + (i - 1) / 40, 'came', 'online', 'Guest ' || i, 'guest' || (i % 50000) || '@post.example.test', 9500, 9500, 9500, 9500, 'b' || i, 's' || i, 1468000000 + i * 1500 FROM n WHERE i <= 200000`,
	`INSERT INTO guests (id, booking_id, name, email, payer, needs_state, token_hash)
		SELECT 100000 + i, 100000 + i, 'Guest ' || i, 'guest' || (i % 50000) || '@post.example.test', 1, 'not told', 'g' || i FROM n WHERE i <= 200000`,
	`INSERT INTO seats (id, booking_id, class_id, guest_id, kind, slabs, position, state)
		SELECT 100000 + i, 100000 + i, 100001 + (i - 1) / 40, 100000 + i, 'slab', 1, 1, 'came' FROM n WHERE i <= 200000`,
	"INSERT INTO picks (seat_id, slot, jar_id, state) SELECT 100000 + i, 1, 1, 'made' FROM n WHERE i <= 200000",
	`INSERT INTO slabs (id, tag, class_id, number, seat_id, slot, planned, green, finished, jar_id, state, sealed_on, unbag_from, ready_on, packed_on)
		SELECT 100000 + i, 'Y' || i, 100001 + (i - 1) / 40, (i - 1) % 40 + 1, 100000 + i, 1, 1, 1, 1, 1, 'collected', c.day, date(c.day, '+13 days'), date(c.day, '+16 days'), date(c.day, '+16 days')
		FROM n JOIN classes c ON c.id = 100001 + (i - 1) / 40 WHERE i <= 200000`,
	`INSERT INTO steps (slab_id, from_state, to_state, counted, done_at, received_at, actor, key)
		SELECT 100001 + (i - 1) / 5, 'wanted', CASE i % 5 WHEN 0 THEN 'collected' WHEN 1 THEN 'cut' WHEN 2 THEN 'in cure' WHEN 3 THEN 'packed' ELSE 'on the shelf' END, 1,
		1469000000 + i * 300, 1469000000 + i * 300, 'Tobias', 'y' || i FROM n WHERE i <= 1000000`,
	"INSERT INTO placements (place_id, slab_id, since, until_at) SELECT 1 + i % 20, 100000 + i, 1469000000 + i * 1500, 1469000000 + i * 1500 + 1000000 FROM n WHERE i <= 200000",
	"INSERT INTO history (subject, subject_id, what, actor, at) SELECT 'booking', 100001 + (i - 1) / 4, 'paid', 'Nadia', 1469000000 + i * 370 FROM n WHERE i <= 800000",
	"INSERT INTO payments (booking_id, cents, method, key, at, actor) SELECT 100000 + i, 9500, 'cash', 'y' || i, 1469000000 + i * 1500, 'Nadia' FROM n WHERE i <= 200000",
	"INSERT INTO ledger_entries (id, key, at, day, text, booking_id) SELECT 1000000 + i, 'payment/y' || i, 1469000000 + i * 1500, date(1469000000 + i * 1500, 'unixepoch'), 'paid', 100000 + i FROM n WHERE i <= 200000",
	"INSERT INTO ledger_lines (entry_id, account, subject, cents) SELECT 1000000 + i, 'cash', 0, 9500 FROM n WHERE i <= 200000 UNION ALL SELECT 1000000 + i, 'earned', 100000 + i, -9500 FROM n WHERE i <= 200000",
	"INSERT INTO notices (key, kind, state, to_name, to_addr, facts, subject, subject_id, due_at, sent_at, created_at) SELECT 'y' || i, 'confirmed', 'sent', 'Guest', 'guest' || (i % 50000) || '@post.example.test', '{}', 'booking', 100001 + (i - 1) / 3, 1469000000 + i * 500, 1469000000 + i * 500, 1469000000 + i * 500 FROM n WHERE i <= 600000",
	"INSERT INTO entries (uid, kind, subject, subject_id, starts_at, ends_at, title, changed_at) SELECT 'y' || i || '@corbel.example.test', 'booking-class', 'booking', 100000 + i, 1469000000 + i * 1500, 1469000000 + i * 1500 + 9000, 'Bacon', 1469000000 + i * 1500 FROM n WHERE i <= 200000",
	"INSERT OR IGNORE INTO probe_readings (room_id, at, temp) SELECT (SELECT min(room_id) FROM probe_readings), 1469000000 + i * 225, 3600 FROM n",
	"DROP TABLE n",
}

// BenchmarkDecade opens every page of the shop on Nov 20 of the invented autumn, with ten
// years of bookings before it and without, turn about, and prints the pages that take most
// and those that suffer most.
func BenchmarkDecade(b *testing.B) {
	ctx := context.Background()
	quiet := slog.New(slog.DiscardHandler)
	young := playedShop(b, filepath.Join(b.TempDir(), "young.db"), quiet)
	old := playedShop(b, filepath.Join(b.TempDir(), "old.db"), quiet)
	for _, p := range []*playedHouse{young, old} {
		if err := p.player.To(ctx, unit.DayOf(2026, time.November, 20).At(16, 0, p.Loc)); err != nil {
			b.Fatal(err)
		}
	}
	db, err := sql.Open("sqlite3", "file:"+old.file+"?_busy_timeout=5000")
	if err != nil {
		b.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	for _, q := range decade {
		if _, err := db.ExecContext(ctx, q); err != nil {
			b.Fatalf("%s: %v", q, err)
		}
	}
	if err := db.Close(); err != nil {
		b.Fatal(err)
	}
	type page struct {
		path        string
		young, old  time.Duration
		ratio       float64
		youngStatus int
	}
	var pages []page
	for b.Loop() {
		pages = nil
		for _, path := range young.paths() {
			var y, o []time.Duration
			status := 0
			for range 5 {
				began := time.Now()
				status = young.get(path)
				y = append(y, time.Since(began))
				began = time.Now()
				if got := old.get(path); got != status {
					b.Errorf("%s answers %d, ten years later %d", path, status, got)
				}
				o = append(o, time.Since(began))
			}
			slices.Sort(y)
			slices.Sort(o)
			pages = append(pages, page{path, y[2], o[2], o[2].Seconds() / y[2].Seconds(), status})
		}
	}
	ratios := make([]float64, len(pages))
	slower := 0
	for i, p := range pages {
		ratios[i] = p.ratio
		if p.ratio > 1.5 && p.old-p.young > time.Millisecond {
			slower++
		}
	}
	slices.Sort(ratios)
	b.ReportMetric(ratios[len(ratios)/2], "ratio")
	b.ReportMetric(ratios[len(ratios)*95/100], "ratio-p95")
	b.ReportMetric(float64(slower), "pages-over-1.5")
	b.ReportMetric(float64(len(pages)), "pages")
	b.ReportMetric(0, "ns/op")
	slices.SortFunc(pages, func(a, c page) int { return cmp.Compare(c.old-c.young, a.old-a.young) })
	var out strings.Builder
	for _, p := range pages[:min(8, len(pages))] {
		fmt.Fprintf(&out, "\n%8.1f ms, ten years before it %8.1f ms  %s (%d)", p.young.Seconds()*1e3, p.old.Seconds()*1e3, p.path, p.youngStatus)
	}
	b.Log(out.String())
}
