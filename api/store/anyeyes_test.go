package store_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
)

// eyes reads everything anybody may open, and looks for the words about food in it. A word
// may stand on the sheets of the class its guest sits in, and on the guest's own page;
// nowhere else, and nowhere at all once the guest has left or was erased.
func (m *anyOrder) eyes() {
	m.done["look"]++
	type where struct {
		class string
		guest shop.GuestID
	}
	look := func(what string, at where, view any, err error) {
		if e, plain := shop.AsError(err); err != nil {
			if !plain || e.Kind == shop.Internal {
				m.g.Fatalf("%s: %v", what, err)
			}
			return
		}
		b, err := json.Marshal(view)
		m.must(err)
		for _, part := range strings.Split(string(b), "zib")[1:] {
			var g shop.GuestID
			if _, err := fmt.Sscanf(part, "%dq", &g); err != nil {
				continue
			}
			var whose []shop.GuestID // a party put back on the waiting list is there twice
			for id, word := range m.words {
				if word == fmt.Sprintf("zib%dq", g) {
					whose = append(whose, id)
				}
			}
			var seat []string
			if len(whose) > 0 {
				m.rows(&seat, "SELECT c.code FROM seats s JOIN classes c ON c.id = s.class_id WHERE s.guest_id IN ? AND s.state IN ('held', 'offered', 'waiting', 'firm', 'came', 'missed')", whose)
			}
			switch {
			case len(whose) == 0:
				m.g.Fatalf("%s shows what guest %d answered, who is gone", what, g)
			case slices.Contains(whose, at.guest):
			case at.class == "" || !slices.Contains(seat, at.class):
				m.g.Fatalf("%s shows what guest %d, in %v, answered", what, g, seat)
			default:
				m.seen++
			}
		}
	}
	ctx, nobody := m.Ctx, where{}
	for _, id := range m.order {
		v, err := m.BookingByID(ctx, id)
		look("the booking", nobody, v, err)
		if v == nil {
			continue
		}
		mine, err := m.MyBooking(ctx, v.Secret)
		look("the payer's page", nobody, mine, err)
		slab, err := m.MySlab(ctx, v.SlabSecret)
		look("the page of who collects", nobody, slab, err)
		q, err := m.LeaveQuote(ctx, id)
		look("the quote for leaving", nobody, q, err)
		feed, err := m.BookingFeed(ctx, v.Secret, false)
		if err == nil {
			e, err := m.FeedEntries(ctx, feed[strings.LastIndex(feed, "/")+1:])
			look("the payer's calendar", nobody, e, err)
		}
		// The payer's own data: their own answer may stand in it, nobody else's.
		own := nobody
		for _, p := range v.People {
			if p.Payer {
				own.guest = p.GuestID
			}
			page, err := m.GuestPage(ctx, p.Secret)
			look("a guest's page", where{guest: p.GuestID}, page, err)
			data, err := m.PersonData(ctx, store.PersonKey{Guest: p.GuestID}, true)
			look("a guest's data", where{guest: p.GuestID}, data, err)
		}
		data, err := m.PersonData(ctx, store.PersonKey{Booking: id}, true)
		look("the payer's data", own, data, err)
		pays, err := m.Payments(ctx, id)
		look("the payments", nobody, pays, err)
		found, err := m.Find(ctx, v.Ref)
		look("what is found", nobody, found, err)
	}
	for code := range anyClasses {
		here := where{class: code}
		table, err := m.TableSheet(ctx, code)
		look("the table sheet of "+code, here, table, err)
		sheet, err := m.ClassSheet(ctx, code)
		look("the class sheet of "+code, here, sheet, err)
		door, err := m.DoorList(ctx, code)
		look("the door list of "+code, here, door, err)
		kits, err := m.KitList(ctx, code)
		look("the kit list of "+code, here, kits, err)
		page, err := m.ClassPage(ctx, code)
		look("the public page of "+code, nobody, page, err)
		costs, err := m.ClassMoney(ctx, code)
		look("the money of "+code, nobody, costs, err)
		lots, err := m.DinnerLots(ctx, code)
		look("the lots of "+code, nobody, lots, err)
	}
	season, err := m.SeasonPage(ctx)
	look("the season", nobody, season, err)
	public, err := m.PublicEntries(ctx)
	look("the public calendar", nobody, public, err)
	dinners, err := m.Dinners(ctx)
	look("the list of dinners", nobody, dinners, err)
	today, err := m.TodaySheet(ctx)
	look("the sheet of today", nobody, today, err)
	folder, err := m.DayFolder(ctx, m.Today())
	look("the day folder", nobody, folder, err)
	books, err := m.LedgerDays(ctx, m.Today()-30, m.Today())
	look("the books", nobody, books, err)
	for _, by := range []shop.Actor{storetest.Odile, storetest.Nadia} {
		feeds, err := m.FeedsFor(ctx, by)
		look("the calendars", nobody, feeds, err)
		for _, f := range feeds {
			e, err := m.FeedEntries(ctx, f.Link[strings.LastIndex(f.Link, "/")+1:])
			look("the calendar of "+f.Title, nobody, e, err)
		}
	}
	var told, written []string
	m.rows(&told, "SELECT facts FROM notices")
	look("the messages", nobody, told, nil)
	m.rows(&written, "SELECT detail || ' ' || from_state || ' ' || to_state FROM history")
	look("the history", nobody, written, nil)
	var left []string
	m.rows(&left, "SELECT words FROM needs")
	for _, w := range left { // what nobody may see any more is not kept either
		if !slices.Contains(slices.Collect(maps.Values(m.words)), w) {
			m.g.Fatalf("%q is kept of somebody who is gone", w)
		}
	}
}
