package store

import (
	"context"
	"encoding/csv"
	"io"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// LedgerGroup is accounts that are read together, with their balances as people read them:
// what is owed or earned above zero.
type LedgerGroup struct {
	Name     string
	Accounts []LedgerBalance
	Sum      unit.Money
}

// LedgerBalance is what stands on an account, all subjects together.
type LedgerBalance struct {
	Account shop.LedgerAccount
	Cents   unit.Money
}

// A Posting is an entry with its lines, those that came in on a side first.
type Posting struct {
	shop.LedgerEntry
	Lines  []PostingLine
	Number int // of the booking, 0 for none
}

// A PostingLine is an entry's part on an account, in words.
type PostingLine struct {
	Account shop.LedgerAccount
	Whose   string // "K28", "B5", "voucher …7f3a"; "" for money in hand
	Cents   unit.Money
}

// LedgerBalances lists every account of the books.
func (s *Store) LedgerBalances(ctx context.Context) ([]LedgerGroup, error) {
	at, err := sums(s.read(ctx), "SELECT account AS name, sum(cents) AS cents FROM ledger_lines GROUP BY account")
	if err != nil {
		return nil, err
	}
	var out []LedgerGroup
	for _, g := range shop.AccountGroups {
		lg := LedgerGroup{Name: g.Name}
		for _, a := range g.Accounts {
			cents := at[string(a)]
			if g.Owing {
				cents = -cents
			}
			lg.Accounts = append(lg.Accounts, LedgerBalance{a, cents})
			lg.Sum += cents
		}
		out = append(out, lg)
	}
	return out, nil
}

// LedgerDays lists the entries of a span of days, the oldest first.
func (s *Store) LedgerDays(ctx context.Context, from, to unit.Day) ([]Posting, error) {
	return s.postings(ctx, "e.day BETWEEN ? AND ?", from, to)
}

// LedgerOf lists a booking's entries, the oldest first.
func (s *Store) LedgerOf(ctx context.Context, id shop.BookingID) ([]Posting, error) {
	return s.postings(ctx, "e.booking_id = ?", id)
}

func (s *Store) postings(ctx context.Context, where string, args ...any) ([]Posting, error) {
	var rows []struct {
		shop.LedgerEntry
		Account shop.LedgerAccount
		Cents   unit.Money
		Number  int
		Whose   string
	}
	err := s.read(ctx).Raw(`SELECT e.id, e."key", e.at, e.day, e.text, e.actor, e.booking_id, l.account, l.cents, coalesce(eb.number, 0) AS number,
		CASE WHEN l.account IN ('owed to bookings', 'seats above what their voucher brought', 'given kindly', 'given for light slabs') THEN (SELECT CASE WHEN number < 10 THEN 'K0' ELSE 'K' END || number FROM bookings WHERE id = l.subject)
			WHEN l.account IN ('earned by classes', 'kept of seats let go') THEN (SELECT code FROM classes WHERE id = l.subject)
			WHEN l.account = 'owed on vouchers' THEN (SELECT 'ending in ' || code_end FROM vouchers WHERE id = l.subject)
			WHEN l.account = 'owed as credit' THEN (SELECT owner_name FROM credits WHERE id = l.subject)
			WHEN l.account IN ('farm bills', 'plant bills') THEN (SELECT 'order ' || number FROM orders WHERE id = l.subject)
			END AS whose
		FROM ledger_entries e JOIN ledger_lines l ON l.entry_id = e.id LEFT JOIN bookings eb ON eb.id = e.booking_id
		WHERE `+where+` ORDER BY e.id, l.cents DESC, l.id`, args...).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	var out []Posting
	for _, r := range rows {
		if n := len(out); n == 0 || out[n-1].ID != r.ID {
			out = append(out, Posting{LedgerEntry: r.LedgerEntry, Number: r.Number})
		}
		p := &out[len(out)-1]
		p.Lines = append(p.Lines, PostingLine{r.Account, r.Whose, r.Cents})
	}
	return out, nil
}

// WriteLedger writes the entries of a span of days, a line of the books a line, in the form
// of RFC 4180: for spreadsheets. Amounts carry the sign the books keep: money in hand above
// zero, what is owed and earned below.
func (s *Store) WriteLedger(ctx context.Context, w io.Writer, from, to unit.Day) error {
	all, err := s.LedgerDays(ctx, from, to)
	if err != nil {
		return err
	}
	c := csv.NewWriter(w)
	c.UseCRLF = true
	if err := c.Write([]string{"entry", "day", "time", "account", "whose", "amount", "text", "by", "booking"}); err != nil {
		return err
	}
	for _, p := range all {
		booking := ""
		if p.Number != 0 {
			booking = shop.Ref(p.Number)
		}
		for _, l := range p.Lines {
			row := []string{strconv.FormatInt(int64(p.ID), 10), p.Day.String(), p.At.Clock(s.Loc), string(l.Account), l.Whose, decimal(l.Cents), p.Text, p.Actor, booking}
			for i := range row {
				row[i] = harmless(row[i])
			}
			row[5] = decimal(l.Cents) // a number, its sign included
			if err := c.Write(row); err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}

// decimal writes money as spreadsheets read it: -47.50.
func decimal(m unit.Money) string {
	sign := ""
	if m < 0 {
		sign, m = "-", -m
	}
	return sign + strconv.FormatInt(int64(m/100), 10) + "." + strconv.FormatInt(int64(m%100/10), 10) + strconv.FormatInt(int64(m%10), 10)
}

// harmless keeps spreadsheets from taking what somebody typed for a formula: they look past
// spaces, and some read the wide signs of East Asian keyboards as the narrow ones.
func harmless(s string) string {
	typed := strings.TrimLeftFunc(s, unicode.IsSpace)
	if typed != s && strings.ContainsAny(s[:1], "\t\r\n") || strings.ContainsAny(firstRune(typed), "=+-@＝＋－＠") {
		return "'" + s
	}
	return s
}

func firstRune(s string) string {
	_, n := utf8.DecodeRuneInString(s)
	return s[:n]
}
