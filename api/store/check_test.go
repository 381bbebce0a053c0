package store_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gorm.io/driver/postgres"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
	"gorm.io/gorm/logger"

	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
)

// behind opens the same database past the store, to break it as a fault would.
func behind(t *testing.T, h *storetest.House) *gorm.DB {
	t.Helper()
	open := postgres.Open(h.URL)
	if file, ok := strings.CutPrefix(h.URL, "sqlite:"); ok {
		open = sqlite.Open("file:" + file + "?_busy_timeout=5000&_foreign_keys=off")
	}
	g, err := gorm.Open(open, &gorm.Config{Logger: logger.Discard})
	if err != nil {
		t.Fatal(err)
	}
	db, err := g.DB()
	if err != nil {
		t.Fatal(err)
	}
	db.SetMaxOpenConns(4)
	t.Cleanup(func() { db.Close() })
	return g
}

func brokenRules(t *testing.T, h *storetest.House) map[string][]string {
	t.Helper()
	found, err := h.Check(h.Ctx)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]string{}
	for _, f := range found {
		if len(f.Broken) > 0 {
			out[f.Rule] = f.Broken
		}
	}
	return out
}

// TestCheckFindsWhatIsBroken breaks one thing after the other and mends it again:
// each must be found by the rule that names it.
func TestCheckFindsWhatIsBroken(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		db := behind(t, h)
		do := func(q string, args ...any) {
			t.Helper()
			if err := db.Exec(q, args...).Error; err != nil {
				t.Fatal(err)
			}
		}
		do(`INSERT INTO classes (id, code, kind_id, starts_at, ends_at, day, seats, seats_taken, state) VALUES
			(901, 'B9', (SELECT min(id) FROM class_kinds), 1, 2, '2026-10-08', 10, 2, 'open'),
			(902, 'B8', (SELECT min(id) FROM class_kinds), 1, 2, '2026-10-09', 10, 0, 'open')`)
		do(`INSERT INTO bookings (id, number, class_id, state, paid_cents, total_cents, token_hash) VALUES (901, 901, 901, 'firm', 9500, 19000, 'x')`)
		do(`INSERT INTO payments (booking_id, cents, "key", method) VALUES (901, 10000, 'a', 'cash'), (901, -500, 'b', 'cash')`)
		do(`INSERT INTO ledger_entries (id, "key", day) VALUES (901, 'payment/a', '2026-10-08'), (902, 'payment/b', '2026-10-08')`)
		do(`INSERT INTO ledger_lines (entry_id, account, subject, cents) VALUES (901, 'cash', 0, 10000), (901, 'owed to bookings', 901, -10000), (902, 'cash', 0, -500), (902, 'owed to bookings', 901, 500)`)
		do(`INSERT INTO guests (id, booking_id, name, token_hash) VALUES (901, 901, 'Nerys', 'y')`)
		do(`INSERT INTO seats (id, booking_id, class_id, guest_id, kind, slabs, position, state) VALUES
			(901, 901, 901, 901, 'slab', 1, 1, 'firm'), (902, 901, 901, 901, 'guest', 0, 2, 'held'),
			(903, 901, 901, 901, 'watch', 0, 3, 'firm'), (904, 901, 901, 901, 'slab', 1, 4, 'let go')`)
		do(`INSERT INTO slabs (id, tag, class_id, number, seat_id, slot, state) VALUES (901, 'B9-01', 901, 1, 901, 1, 'wanted')`)
		do(`INSERT INTO recipes (id, code, "limit") VALUES (901, 'r', 200)`)
		do(`INSERT INTO ingredient_lots (id, ingredient, code) VALUES (901, 'curing salt', 'C-1')`)
		do(`INSERT INTO scales (id, name, step) VALUES (901, 'test scale', 1)`)
		if b := brokenRules(t, h); len(b) > 0 {
			t.Fatalf("a sound shop is called broken: %v", b)
		}
		const day = 1790000000 // Mon Sep 21 2026 in Chicago
		for _, tc := range []struct{ name, break_, mend, rule, says string }{
			{"count off", "UPDATE classes SET seats_taken = 3 WHERE id = 901", "UPDATE classes SET seats_taken = 2 WHERE id = 901",
				"seats taken are the seats that hold a place", "B9: 3 taken, 2 seats"},
			{"ended booking", "UPDATE bookings SET state = 'let go' WHERE id = 901", "UPDATE bookings SET state = 'firm' WHERE id = 901",
				"nobody sits in a class for a booking that has ended", "K901"},
			{"other class", "UPDATE seats SET class_id = 902 WHERE id = 903", "UPDATE seats SET class_id = 901 WHERE id = 903",
				"a seat is in its booking's class", "K901"},
			{"money", "UPDATE bookings SET paid_cents = 9501 WHERE id = 901", "UPDATE bookings SET paid_cents = 9500 WHERE id = 901",
				"what a booking paid is what its payments sum to", "9501 cents on the booking, 9500 in payments"},
			{"credit", "INSERT INTO credits (id, cents, left_cents, state, expires_on) VALUES (901, 500, 400, 'open', '2028-01-01')", "DELETE FROM credits",
				"what was used of a credit is what paid for bookings", "100 cents used, 0 in payments"},
			{"an entry out of balance", "INSERT INTO ledger_lines (entry_id, account, cents) VALUES (901, 'cash', 100)", "INSERT INTO ledger_lines (entry_id, account, cents) VALUES (901, 'cash', -100)",
				"every entry of the ledger balances and names accounts of ours", "payment/a: 3 lines that sum to 100"},
			{"a payment the ledger does not know", "INSERT INTO payments (id, cents, \"key\", method) VALUES (901, 1, 'c', 'cash')", "DELETE FROM payments WHERE id = 901",
				"every payment stands in the ledger once, and no other", "payment c is not"},
			{"money that is not there", "UPDATE payments SET method = 'card' WHERE \"key\" = 'b'", "UPDATE payments SET method = 'cash' WHERE \"key\" = 'b'",
				"money in hand is what the payments say came in and went back", "card: -$5.00 by the payments"},
			{"earned too early", "UPDATE bookings SET earned_cents = 100 WHERE id = 901", "UPDATE bookings SET earned_cents = 0 WHERE id = 901",
				"a class taught has earned what was paid for its seats, another nothing", "earned 100 cents of 9500"},
			{"kept and still owed", "UPDATE bookings SET kept_cents = 100 WHERE id = 901", "UPDATE bookings SET kept_cents = 0 WHERE id = 901",
				"a booking is owed what it paid, less what was kept and earned", "owed 9400 cents by its row, 9500"},
			{"a voucher from nowhere", "INSERT INTO vouchers (id, code_hash, paid_cents, left_cents, state, sold_on, expires_on) VALUES (901, 'z', 500, 500, 'sold', '2026-10-01', '2028-01-01')", "DELETE FROM vouchers",
				"a voucher is owed what is left of it", "500 cents left, sold, owed 0"},
			{"a credit from nowhere", "INSERT INTO credits (id, cents, left_cents, state, expires_on) VALUES (901, 500, 500, 'open', '2028-01-01')", "DELETE FROM credits",
				"money in is money out, owed and earned", "owed as credit: $5.00 by the records, $0.00"},
			{"no animal", "UPDATE slabs SET state = 'cut' WHERE id = 901", "UPDATE slabs SET state = 'wanted' WHERE id = 901",
				"a cut slab leads back to an animal with a delivery", "B9-01"},
			{"no ticket", "UPDATE slabs SET state = 'in cure' WHERE id = 901", "UPDATE slabs SET state = 'wanted' WHERE id = 901",
				"a sealed slab has a ticket that counts", "B9-01"},
			{"no weigh-out, on hold", "UPDATE slabs SET state = 'on hold', held_from = 'in smoke' WHERE id = 901", "UPDATE slabs SET state = 'wanted', held_from = '' WHERE id = 901",
				"a sealed slab has a weigh-out that passed, with its lots", "B9-01"},
			{"on hold for nothing", "UPDATE slabs SET state = 'on hold', held_from = 'wanted' WHERE id = 901", "UPDATE slabs SET state = 'wanted', held_from = '' WHERE id = 901",
				"a slab on hold is in an open hold", "B9-01"},
			{"slab elsewhere", "UPDATE slabs SET class_id = 902 WHERE id = 901", "UPDATE slabs SET class_id = 901 WHERE id = 901",
				"a slab and its seat are in one class", "B9-01"},
			{"sent at no time", "INSERT INTO notices (\"key\", state) VALUES ('n/1', 'sent')", "DELETE FROM notices",
				"a message is sent or not, never both", "n/1"},
		} {
			do(tc.break_)
			if got := strings.Join(brokenRules(t, h)[tc.rule], "; "); !strings.Contains(got, tc.says) {
				t.Errorf("%s: %q says %q, want %q", tc.name, tc.rule, got, tc.says)
			}
			do(tc.mend)
			if b := brokenRules(t, h); len(b) > 0 {
				t.Fatalf("%s: mended and still broken: %v", tc.name, b)
			}
		}

		for _, q := range []string{"UPDATE ledger_lines SET cents = 1 WHERE cents > 0", "DELETE FROM ledger_lines", "UPDATE ledger_entries SET text = 'x'", "DELETE FROM ledger_entries"} {
			if err := db.Exec(q).Error; err == nil || !strings.Contains(err.Error(), "only added to") {
				t.Errorf("%s: %v; the ledger must refuse it", q, err)
			}
		}
		do(`INSERT INTO cure_tickets (id, slab_id, recipe_id, cure_lot_id, green, basis, limit_most, made_at) VALUES (901, 901, 901, 901, 1, 1, 200000, ?)`, day)
		do(`INSERT INTO weigh_outs (id, ticket_id, slab_id, scale_id, ppm, passed, at) VALUES (901, 901, 901, 901, 150000, ?, ?)`, true, day)
		const scales, limit = "a weigh-out that passed was on a scale checked that day", "no weigh-out that passed is over the limit of nitrite its ticket was made under"
		if len(brokenRules(t, h)[scales]) != 1 {
			t.Error("a weigh-out on a scale never checked is not found")
		}
		do(`INSERT INTO scale_checks (scale_id, day, passed, at) VALUES (901, '2026-09-21', ?, ?)`, true, day+60)
		if len(brokenRules(t, h)[scales]) != 1 {
			t.Error("a scale checked after the weigh-out counts as checked")
		}
		do(`UPDATE scale_checks SET at = ?`, day-60)
		if b := brokenRules(t, h)[scales]; b != nil {
			t.Error(b)
		}
		do(`UPDATE weigh_outs SET ppm = 200001`)
		if len(brokenRules(t, h)[limit]) != 1 {
			t.Error("a weigh-out over the limit is not found")
		}
	})
}

func TestBackupIsACopyAndNeverOverwrites(t *testing.T) {
	h := storetest.SQLite(t)
	file := strings.TrimPrefix(h.URL, "sqlite:")
	to := filepath.Join(t.TempDir(), "copy.db")
	if err := store.Backup(h.Ctx, file, to); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(to); err != nil || info.Mode().Perm() != 0o600 {
		t.Fatalf("%v, %v", info.Mode(), err)
	}
	before, err := os.ReadFile(to)
	if err != nil {
		t.Fatal(err)
	}
	if err := store.Backup(h.Ctx, file, to); err == nil {
		t.Error("a backup wrote over another")
	}
	if after, err := os.ReadFile(to); err != nil || string(after) != string(before) {
		t.Errorf("the older backup was touched (%v)", err)
	}
	copied := storetest.Bare(t, "sqlite:"+to)
	for _, s := range []*store.Store{h.Store, copied.Store} {
		if b, err := s.Check(h.Ctx); err != nil || len(b) == 0 {
			t.Fatal(b, err)
		}
	}
	var names [2][]string
	for i, hh := range []*storetest.House{h, copied} {
		if err := behind(t, hh).Raw("SELECT name FROM farms ORDER BY name").Scan(&names[i]).Error; err != nil {
			t.Fatal(err)
		}
	}
	if len(names[0]) == 0 || strings.Join(names[0], "|") != strings.Join(names[1], "|") {
		t.Errorf("the copy has farms %v, the shop %v", names[1], names[0])
	}
	gone := filepath.Join(t.TempDir(), "none.db")
	if err := store.Backup(h.Ctx, filepath.Join(t.TempDir(), "absent.db"), gone); err == nil {
		t.Error("nothing was copied and nothing said")
	}
	if _, err := os.Stat(gone); err == nil {
		t.Error("a failed backup left a file")
	}
}
