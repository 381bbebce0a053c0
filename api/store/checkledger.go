package store

import (
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

func balancedLedger(g *gorm.DB, _ *Store) ([]string, error) {
	out, err := lines(`SELECT 'entry ' || e.key || ': ' || count(l.id) || ' lines that sum to ' || coalesce(sum(l.cents), 0) || ' cents'
		FROM ledger_entries e LEFT JOIN ledger_lines l ON l.entry_id = e.id
		GROUP BY e.id, e.key HAVING count(l.id) < 2 OR sum(l.cents) <> 0 ORDER BY e.id`)(g, nil)
	if err != nil {
		return nil, err
	}
	var used []shop.LedgerAccount
	if err := g.Raw("SELECT DISTINCT account FROM ledger_lines ORDER BY account").Scan(&used).Error; err != nil {
		return nil, err
	}
	for _, a := range used {
		if _, ok := a.Group(); !ok {
			out = append(out, fmt.Sprintf("account %q", a))
		}
	}
	return out, nil
}

// moneyInHand counts each way of paying once by its payments and once by its account.
func moneyInHand(g *gorm.DB, _ *Store) ([]string, error) {
	paid, err := sums(g, "SELECT method AS name, sum(cents) AS cents FROM payments WHERE voucher_id = 0 AND credit_id = 0 OR booking_id = 0 GROUP BY method")
	if err != nil {
		return nil, err
	}
	booked, err := sums(g, "SELECT account AS name, sum(cents) AS cents FROM ledger_lines GROUP BY account")
	if err != nil {
		return nil, err
	}
	var out []string
	for _, method := range []string{"cash", "card", "transfer", "online", "till"} {
		a, _ := shop.MoneyAccount(method)
		if paid[method] != booked[string(a)] {
			out = append(out, fmt.Sprintf("%s: %s by the payments, %s in the ledger", method, paid[method], booked[string(a)]))
		}
	}
	return out, nil
}

func sums(g *gorm.DB, query string) (map[string]unit.Money, error) {
	var rows []struct {
		Name  string
		Cents unit.Money
	}
	if err := g.Raw(query).Scan(&rows).Error; err != nil {
		return nil, err
	}
	out := map[string]unit.Money{}
	for _, r := range rows {
		out[r.Name] = r.Cents
	}
	return out, nil
}

// inIsOutOwedAndEarned reckons from the records, not from the ledger, what people are owed
// and what was earned, and holds it against the money that came in and went out. Only what
// was given for nothing, and what seat vouchers stand above what they brought, are the
// ledger's own knowledge.
func inIsOutOwedAndEarned(g *gorm.DB, _ *Store) ([]string, error) {
	var r struct{ Money, Bookings, Vouchers, Credits unit.Money }
	err := g.Raw(`SELECT
		(SELECT coalesce(sum(cents), 0) FROM payments WHERE voucher_id = 0 AND credit_id = 0 OR booking_id = 0) AS money,
		(SELECT coalesce(sum(paid_cents - kept_cents - earned_cents), 0) FROM bookings) AS bookings,
		(SELECT coalesce(sum(left_cents), 0) FROM vouchers WHERE state <> 'run out') AS vouchers,
		(SELECT coalesce(sum(left_cents), 0) FROM credits WHERE state <> 'run out') AS credits`).Scan(&r).Error
	if err != nil {
		return nil, err
	}
	b, err := sums(g, "SELECT account AS name, sum(cents) AS cents FROM ledger_lines GROUP BY account")
	if err != nil {
		return nil, err
	}
	at := func(a shop.LedgerAccount) unit.Money { return b[string(a)] }
	var out []string
	hold := func(what string, records, ledger unit.Money) {
		if records != ledger {
			out = append(out, fmt.Sprintf("%s: %s by the records, %s in the ledger", what, records, ledger))
		}
	}
	hold("owed to bookings", r.Bookings, -at(shop.OwedBooking))
	hold("owed on vouchers", r.Vouchers, -at(shop.OwedVoucher))
	hold("owed as credit", r.Credits, -at(shop.OwedCredit))
	owedAndEarned := r.Bookings + r.Vouchers + r.Credits - at(shop.SeatLift) - at(shop.EarnedClass) - at(shop.KeptSeats) - at(shop.RunOut)
	hold("money in, less money out, with what was given", r.Money+at(shop.GivenKindly)+at(shop.ShortWeight), owedAndEarned)
	return out, nil
}
