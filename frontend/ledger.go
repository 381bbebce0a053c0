package frontend

import (
	"bytes"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var ledgerPages = map[string]Page{
	"owner_ledger":   {Shop, LedgerPage{}},
	"booking_ledger": {Shop, BookingLedgerPage{}},
}

// LedgerPage is the shop's books: balances, and entries by day.
type LedgerPage struct {
	Layout
	Form     Form
	Groups   []store.LedgerGroup
	Days     []LedgerDay
	From, To unit.Day
	Refunds  []store.RefundView
	Refused  string // what a button was refused for
}

// LedgerDay is the entries of one day.
type LedgerDay struct {
	Day      unit.Day
	Postings []store.Posting
}

// BookingLedgerPage is a booking's own entries.
type BookingLedgerPage struct {
	Layout
	Booking store.BookingView
	Days    []LedgerDay
}

func (s *Site) ledgerRoutes(e *echo.Echo) {
	owner := api.Need(shop.Owner)
	e.GET("/owner/ledger", func(c echo.Context) error { return s.ledger(c, http.StatusOK, "") }, owner)
	e.GET("/owner/ledger.csv", s.ledgerFile, owner)
	e.POST("/owner/refunds/:id", s.settleRefund, owner)
	e.GET("/staff/bookings/:number/ledger", s.bookingLedger, api.Need(shop.Staff))
}

// ledgerSpan is how many days the page shows when none are named, and the most it does.
const ledgerSpan, mostLedger = 14, 400

func (s *Site) ledgerDays(c echo.Context, f *Form) (from, to unit.Day) {
	to = s.Store.Today()
	from = to - ledgerSpan + 1
	f.Values = c.QueryParams()
	read := func(name string, into *unit.Day) {
		typed := strings.TrimSpace(f.Values.Get(name))
		if typed == "" {
			return
		}
		d, err := unit.ParseDay(typed)
		if err != nil {
			f.Fail(name, "Write the day as 2026-11-25.")
			return
		}
		*into = d
	}
	read("to", &to)
	if f.Values.Get("from") == "" {
		from = to - ledgerSpan + 1
	}
	read("from", &from)
	switch {
	case !f.OK():
	case from > to:
		f.Fail("from", "The first day lies after the last.")
	case to-from > mostLedger:
		f.Fail("from", fmt.Sprintf("At most %d days at once; the file takes them too.", mostLedger))
	}
	return from, to
}

func (s *Site) ledger(c echo.Context, status int, refused string) error {
	ctx := c.Request().Context()
	p := LedgerPage{Layout: s.Layout(c, "Books"), Refused: refused}
	p.From, p.To = s.ledgerDays(c, &p.Form)
	p.Form.Order = []string{"from", "to"}
	var err error
	if p.Groups, err = s.Store.LedgerBalances(ctx); err != nil {
		return err
	}
	if p.Refunds, err = s.Store.Refunds(ctx); err != nil {
		return err
	}
	if !p.Form.OK() {
		return s.Render(c, http.StatusUnprocessableEntity, "owner_ledger", p)
	}
	all, err := s.Store.LedgerDays(ctx, p.From, p.To)
	if err != nil {
		return err
	}
	p.Days = byDay(all)
	for i, j := 0, len(p.Days)-1; i < j; i, j = i+1, j-1 { // the newest day first
		p.Days[i], p.Days[j] = p.Days[j], p.Days[i]
	}
	return s.Render(c, status, "owner_ledger", p)
}

func byDay(all []store.Posting) []LedgerDay {
	var days []LedgerDay
	for _, e := range all {
		if n := len(days); n == 0 || days[n-1].Day != e.Day {
			days = append(days, LedgerDay{Day: e.Day})
		}
		d := &days[len(days)-1]
		d.Postings = append(d.Postings, e)
	}
	return days
}

func (s *Site) ledgerFile(c echo.Context) error {
	var f Form
	from, to := s.ledgerDays(c, &f)
	if !f.OK() {
		return s.ledger(c, http.StatusUnprocessableEntity, "")
	}
	var b bytes.Buffer
	if err := s.Store.WriteLedger(c.Request().Context(), &b, from, to); err != nil {
		return err
	}
	h := c.Response().Header()
	h.Set(echo.HeaderContentDisposition, fmt.Sprintf(`attachment; filename="books-%s-%s.csv"`, from, to))
	h.Set(echo.HeaderCacheControl, "no-store")
	return c.Blob(http.StatusOK, "text/csv; charset=utf-8; header=present", b.Bytes())
}

func (s *Site) settleRefund(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	id, err := strconv.ParseInt(c.Param("id"), 10, 64)
	if err != nil {
		return shop.Missing("The refund")
	}
	ctx, by := c.Request().Context(), api.Actor(c)
	if how := f.Values.Get("how"); how == "again" {
		err = s.Store.RetryRefund(ctx, by, shop.RefundID(id))
	} else {
		err = s.Store.RefundOtherWay(ctx, by, shop.RefundID(id), how, f.Values.Get("note"))
	}
	if e, ok := shop.AsError(err); ok && (e.Kind == shop.Conflict || e.Kind == shop.Invalid) {
		text := e.Text
		if e.Fields["method"] != "" {
			text = e.Fields["method"]
		}
		return s.ledger(c, api.Status(err), text)
	}
	if err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, "/owner/ledger")
}

func (s *Site) bookingLedger(c echo.Context) error {
	b, err := s.numbered(c)
	if err != nil {
		return err
	}
	all, err := s.Store.LedgerOf(c.Request().Context(), b.ID)
	if err != nil {
		return err
	}
	return s.Render(c, http.StatusOK, "booking_ledger", BookingLedgerPage{Layout: s.Layout(c, b.Ref+": books"), Booking: *b, Days: byDay(all)})
}
