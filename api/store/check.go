package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// A Finding is one thing that must always hold and what breaks it, in words; nothing
// means that it holds.
type Finding struct {
	Rule   string
	Broken []string
}

// An invariant is written apart from the use cases that keep it, from the records
// alone. Its query gives a line of text for each record that breaks it.
type invariant struct {
	rule string
	find func(*gorm.DB, *Store) ([]string, error)
}

// Check holds the whole database against what must always be true, in one view of it,
// while others work on.
func (s *Store) Check(ctx context.Context) ([]Finding, error) {
	return s.check(ctx, slices.Concat(invariants, moneyInvariants))
}

// CheckMoney is the part of Check that is about money.
func (s *Store) CheckMoney(ctx context.Context) ([]Finding, error) {
	return s.check(ctx, moneyInvariants)
}

func (s *Store) check(ctx context.Context, rules []invariant) ([]Finding, error) {
	var opts []*sql.TxOptions
	if s.dialect == "postgres" {
		opts = append(opts, &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true})
	}
	var out []Finding
	err := s.read(ctx).Transaction(func(g *gorm.DB) error {
		for _, i := range rules {
			broken, err := i.find(g, s)
			if err != nil {
				return fmt.Errorf("check %q: %w", i.rule, err)
			}
			out = append(out, Finding{i.rule, broken})
		}
		return nil
	}, opts...)
	return out, err
}

// lines runs a query whose only column says what is wrong.
func lines(query string, args ...any) func(*gorm.DB, *Store) ([]string, error) {
	return func(g *gorm.DB, _ *Store) ([]string, error) {
		var out []string
		err := g.Raw(query, args...).Scan(&out).Error
		return out, err
	}
}

// holding are the states in which a seat takes a place.
var holding = statesOf(shop.BookingMoves, shop.BookingState.Holds)

func statesOf[S ~string](m shop.Moves[S], is func(S) bool) []S {
	var out []S
	for _, s := range m.States {
		if is(s) {
			out = append(out, s)
		}
	}
	return out
}

// sealed are the states of a slab that has been through the cure.
var sealed = []shop.SlabState{shop.InCure, shop.Rinsed, shop.InSmoke, shop.Resting, shop.Packed, shop.OnShelf, shop.Collected, shop.InFreezer}

const isSealed = "(s.state IN ? OR (s.state = 'on hold' AND s.held_from IN ?))"

// moneyInvariants are about money: what came in, went back, is owed and was earned.
var moneyInvariants = []invariant{
	{"what a booking paid is what its payments sum to", lines(`
		SELECT 'K' || b.number || ': ' || b.paid_cents || ' cents on the booking, ' || coalesce(sum(p.cents), 0) || ' in payments'
		FROM bookings b LEFT JOIN payments p ON p.booking_id = b.id
		GROUP BY b.id, b.number, b.paid_cents HAVING b.paid_cents <> coalesce(sum(p.cents), 0) ORDER BY b.id`)},
	{"no credit or voucher is overdrawn", lines(`
		SELECT 'credit ' || id FROM credits WHERE left_cents < 0 OR left_cents > cents
		UNION ALL SELECT 'voucher ' || id FROM vouchers WHERE left_cents < 0 OR left_cents > paid_cents`)},
	{"what was used of a credit is what paid for bookings", lines(`
		SELECT 'credit ' || c.id || ': ' || (c.cents - c.left_cents) || ' cents used, ' || coalesce(sum(p.cents), 0) || ' in payments'
		FROM credits c LEFT JOIN payments p ON p.credit_id = c.id AND p.method = 'credit'
		GROUP BY c.id, c.cents, c.left_cents, c.state
		HAVING c.state <> 'run out' AND c.cents - c.left_cents <> coalesce(sum(p.cents), 0) ORDER BY c.id`)},
	{"every entry of the ledger balances and names accounts of ours", balancedLedger},
	{"every payment stands in the ledger once, and no other", lines(`
		SELECT 'payment ' || p.key || ' is not in the ledger' FROM payments p LEFT JOIN ledger_entries e ON e.key = 'payment/' || p.key WHERE e.id IS NULL AND p.cents <> 0
		UNION ALL SELECT 'entry ' || e.key || ' has no payment' FROM ledger_entries e LEFT JOIN payments p ON e.key = 'payment/' || p.key WHERE e.key LIKE 'payment/%' AND p.id IS NULL`)},
	{"money in hand is what the payments say came in and went back", moneyInHand},
	{"a booking is owed what it paid, less what was kept and earned", lines(`
		SELECT 'K' || b.number || ': owed ' || (b.paid_cents - b.kept_cents - b.earned_cents) || ' cents by its row, ' || -coalesce(sum(l.cents), 0) || ' by the ledger'
		FROM bookings b LEFT JOIN ledger_lines l ON l.account = 'owed to bookings' AND l.subject = b.id
		GROUP BY b.id, b.number, b.paid_cents, b.kept_cents, b.earned_cents
		HAVING b.paid_cents - b.kept_cents - b.earned_cents <> -coalesce(sum(l.cents), 0) ORDER BY b.id`)},
	{"a class taught has earned what was paid for its seats, another nothing", lines(`
		SELECT 'K' || b.number || ': earned ' || b.earned_cents || ' cents of ' || (b.paid_cents - b.kept_cents) || ', its seats cost ' || b.total_cents || ', class ' || c.code || ' is ' || c.state
		FROM bookings b JOIN classes c ON c.id = b.class_id
		WHERE b.earned_cents <> CASE WHEN c.state NOT IN ('taught', 'closed out') OR b.paid_cents < b.kept_cents THEN 0
			WHEN b.paid_cents - b.kept_cents < b.total_cents THEN b.paid_cents - b.kept_cents ELSE b.total_cents END ORDER BY b.id`)},
	{"nobody has kept or earned more of a booking than was paid", lines(`
		SELECT 'K' || number || ': paid ' || paid_cents || ', kept ' || kept_cents || ', earned ' || earned_cents FROM bookings WHERE kept_cents + earned_cents > paid_cents ORDER BY id`)},
	{"a seat voucher's lift ends with what is owed", lines(`
		SELECT 'K' || b.number || ': ' || sum(l.cents) || ' cents' FROM bookings b JOIN ledger_lines l ON l.account = 'seats above what their voucher brought' AND l.subject = b.id
		WHERE b.paid_cents - b.kept_cents - b.earned_cents = 0 GROUP BY b.id, b.number HAVING sum(l.cents) <> 0 ORDER BY b.id`)},
	{"a voucher is owed what is left of it", lines(`
		SELECT 'voucher ' || v.id || ': ' || v.left_cents || ' cents left, ' || v.state || ', owed ' || -coalesce(sum(l.cents), 0)
		FROM vouchers v LEFT JOIN ledger_lines l ON l.account = 'owed on vouchers' AND l.subject = v.id
		GROUP BY v.id, v.left_cents, v.state HAVING CASE WHEN v.state = 'run out' THEN 0 ELSE v.left_cents END <> -coalesce(sum(l.cents), 0) ORDER BY v.id`)},
	{"a credit is owed what is left of it", lines(`
		SELECT 'credit ' || c.id || ': ' || c.left_cents || ' cents left, ' || c.state || ', owed ' || -coalesce(sum(l.cents), 0)
		FROM credits c LEFT JOIN ledger_lines l ON l.account = 'owed as credit' AND l.subject = c.id
		GROUP BY c.id, c.left_cents, c.state HAVING CASE WHEN c.state = 'run out' THEN 0 ELSE c.left_cents END <> -coalesce(sum(l.cents), 0) ORDER BY c.id`)},
	{"money in is money out, owed and earned", inIsOutOwedAndEarned},
}

var invariants = []invariant{
	{"the file is whole", wholeFile},
	{"seats taken are the seats that hold a place", lines(`
		SELECT c.code || ': ' || c.seats_taken || ' taken, ' || count(s.id) || ' seats hold a place'
		FROM classes c LEFT JOIN seats s ON s.class_id = c.id AND s.kind <> 'watch' AND s.state IN ?
		GROUP BY c.id, c.code, c.seats_taken HAVING c.seats_taken <> count(s.id) ORDER BY c.id`, holding)},
	{"no class has more seats taken than it has", lines(`
		SELECT code || ': ' || seats_taken || ' of ' || seats FROM classes WHERE seats_taken > seats OR seats_taken < 0 ORDER BY id`)},
	{"nobody sits in a class for a booking that has ended", lines(`
		SELECT 'K' || b.number || ' is ' || b.state || ', a seat of it is ' || s.state
		FROM seats s JOIN bookings b ON b.id = s.booking_id
		WHERE b.state IN ('let go', 'moved', 'called off') AND s.state IN ? ORDER BY b.id`, holding)},
	{"a seat is in its booking's class", lines(`
		SELECT 'K' || b.number FROM seats s JOIN bookings b ON b.id = s.booking_id WHERE s.class_id <> b.class_id AND s.state NOT IN ('moved', 'called off', 'let go') ORDER BY b.id`)},
	{"a piece of meat has one purpose at a time", lines(`
		SELECT piece || ' ' || subject_id FROM claims WHERE ended_at = 0 GROUP BY piece, subject_id HAVING count(*) > 1`)},
	{"nobody claims meat of a condemned animal", lines(`
		SELECT 'animal ' || a.id || ' claimed for ' || c.purpose FROM claims c
		LEFT JOIN bellies b ON c.piece = 'belly' AND b.id = c.subject_id
		LEFT JOIN sides s ON s.id = CASE WHEN c.piece IN ('side', 'hindquarter', 'forequarter') THEN c.subject_id ELSE b.side_id END
		JOIN animals a ON a.id = CASE WHEN c.piece = 'animal' THEN c.subject_id ELSE s.animal_id END
		WHERE c.ended_at = 0 AND a.condemned = ? ORDER BY a.id`, true)},
	{"places taken of a kill day are those its orders hold", lines(`
		SELECT k.day || ' ' || s.species || ': ' || s.taken || ' taken, orders hold ' || coalesce(sum(o.slots), 0)
		FROM slots s JOIN kill_days k ON k.id = s.kill_day_id LEFT JOIN orders o ON o.kill_day_id = s.kill_day_id AND o.species = s.species
		GROUP BY s.id, k.day, s.species, s.taken HAVING s.taken <> coalesce(sum(o.slots), 0) ORDER BY s.id`)},
	{"an order that holds places holds what was promised", lines(`
		SELECT 'order ' || number || ' is ' || state || ', holds ' || slots || ', promised ' || promised FROM orders
		WHERE state = 'slot held' AND slots <> promised OR state IN ('needed', 'asked', 'called off') AND slots <> 0 ORDER BY id`)},
	{"a place holds one slab, a slab lies in one place", lines(`
		SELECT 'place ' || place_id FROM placements WHERE until_at = 0 GROUP BY place_id HAVING count(*) > 1
		UNION ALL SELECT 'slab ' || slab_id FROM placements WHERE until_at = 0 GROUP BY slab_id HAVING count(*) > 1`)},
	{"a cut slab leads back to an animal with a delivery", lines(`
		SELECT s.tag FROM slabs s
		LEFT JOIN bellies b ON b.id = s.belly_id LEFT JOIN sides d ON d.id = b.side_id
		LEFT JOIN animals a ON a.id = d.animal_id LEFT JOIN deliveries v ON v.id = a.delivery_id
		WHERE s.state NOT IN ('wanted', 'dumped', 'replaced') AND NOT (s.state = 'on hold' AND s.held_from IN ('wanted', ''))
		AND (v.id IS NULL OR a.condemned = ?) ORDER BY s.tag`, true)},
	{"a sealed slab has a ticket that counts", lines(`
		SELECT s.tag FROM slabs s WHERE `+isSealed+`
		AND NOT EXISTS (SELECT 1 FROM cure_tickets t WHERE t.slab_id = s.id AND t.superseded_at = 0) ORDER BY s.tag`, sealed, sealed)},
	{"a sealed slab has a weigh-out that passed, with its lots", lines(`
		SELECT s.tag FROM slabs s WHERE `+isSealed+`
		AND NOT EXISTS (SELECT 1 FROM cure_tickets t JOIN weigh_outs w ON w.ticket_id = t.id AND w.slab_id = s.id
			JOIN weigh_out_lots l ON l.weigh_out_id = w.id
			WHERE t.slab_id = s.id AND t.superseded_at = 0 AND w.passed = ?) ORDER BY s.tag`, sealed, sealed, true)},
	{"no weigh-out that passed is over the limit of nitrite its ticket was made under", lines(`
		SELECT s.tag || ': ' || w.ppm || ' thousandths of a ppm' FROM weigh_outs w
		JOIN cure_tickets t ON t.id = w.ticket_id JOIN slabs s ON s.id = w.slab_id
		WHERE w.passed = ? AND w.ppm > t.limit_most ORDER BY s.tag`, true)},
	{"no ticket is over the limit of nitrite it was made under", lines(`
		SELECT s.tag || ': ' || t.ppm || ' thousandths of a ppm' FROM cure_tickets t JOIN slabs s ON s.id = t.slab_id
		WHERE t.ppm > t.limit_most ORDER BY s.tag`)},
	{"nothing with nitrate, and no nitrite but the curing salt's, lies on a slab", lines(`
		SELECT DISTINCT s.tag || ': lot ' || l.code || ' of ' || l.ingredient FROM weigh_outs w JOIN weigh_out_lots x ON x.weigh_out_id = w.id
		JOIN ingredient_lots l ON l.id = x.lot_id JOIN slabs s ON s.id = w.slab_id
		WHERE w.passed = ? AND (l.nitrate > 0 OR l.nitrite > 0 AND l.ingredient <> 'curing salt') ORDER BY 1`, true)},
	{"a weigh-out that passed was on a scale checked that day", scalesChecked},
	{"a slab and its seat are in one class", lines(`
		SELECT b.tag FROM slabs b JOIN seats s ON s.id = b.seat_id WHERE b.seat_id <> 0 AND s.class_id <> b.class_id ORDER BY b.tag`)},
	{"a slab on hold is in an open hold", lines(`
		SELECT s.tag FROM slabs s WHERE s.state = 'on hold'
		AND NOT EXISTS (SELECT 1 FROM hold_slabs h JOIN holds o ON o.id = h.hold_id WHERE h.slab_id = s.id AND o.state = 'open') ORDER BY s.tag`)},
	{"a message is sent or not, never both", lines(`
		SELECT "key" FROM notices WHERE (state = 'sent' AND sent_at = 0) OR (state = 'waiting to send' AND sent_at <> 0) ORDER BY id`)},
}

func wholeFile(g *gorm.DB, s *Store) ([]string, error) {
	if s.dialect != "sqlite" {
		return nil, nil // PostgreSQL keeps checksums of its own
	}
	var said []string
	if err := g.Raw("PRAGMA integrity_check").Scan(&said).Error; err != nil {
		return nil, err
	}
	if len(said) == 1 && said[0] == "ok" {
		said = nil
	}
	rows, err := g.Raw("PRAGMA foreign_key_check").Rows()
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var table, parent string
		var row, fk sql.NullInt64
		if err := rows.Scan(&table, &row, &parent, &fk); err != nil {
			return nil, err
		}
		said = append(said, fmt.Sprintf("%s row %d points to nothing in %s", table, row.Int64, parent))
	}
	return said, rows.Err()
}

// scalesChecked compares days, and only Go knows the shop's zone on both databases.
func scalesChecked(g *gorm.DB, s *Store) ([]string, error) {
	var checks []shop.ScaleCheck
	if err := g.Where("passed = ?", true).Find(&checks).Error; err != nil {
		return nil, err
	}
	type key struct {
		scale shop.ScaleID
		day   unit.Day
	}
	first := map[key]unit.Instant{}
	for _, c := range checks {
		k := key{c.ScaleID, c.Day}
		if at, ok := first[k]; !ok || c.At < at {
			first[k] = c.At
		}
	}
	var outs []struct {
		Tag     string
		ScaleID shop.ScaleID
		At      unit.Instant
	}
	err := g.Raw("SELECT s.tag, w.scale_id, w.at FROM weigh_outs w JOIN slabs s ON s.id = w.slab_id WHERE w.passed = ? ORDER BY s.tag, w.id", true).Scan(&outs).Error
	if err != nil {
		return nil, err
	}
	var broken []string
	for _, w := range outs {
		if at, ok := first[key{w.ScaleID, w.At.Day(s.Loc)}]; !ok || at > w.At {
			broken = append(broken, fmt.Sprintf("%s: weighed %s on scale %d before it passed a check that day", w.Tag, w.At.Show(s.Loc), w.ScaleID))
		}
	}
	return broken, nil
}
