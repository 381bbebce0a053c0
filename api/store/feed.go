package store

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// The kinds of feed. All but the public one have a secret address.
const (
	PublicFeed   = "public"
	CustomerFeed = "customer" // of one booking
	StaffFeed    = "staff"    // of one account, as the next two
	KitchenFeed  = "kitchen"
	OwnerFeed    = "owner"
	FarmFeed     = "farm" // of one farm
)

// keptDays is how long an entry stays in a feed past its day, called off or not, so
// that a calendar program that comes seldom still learns of it (R41: at least 30).
const keptDays = 45

// FeedView is a feed as it is to be written.
type FeedView struct {
	Kind    string
	Name    string
	Entries []shop.Entry // in a fixed order
	Today   unit.Day
}

// OpenFeed gives the secret address of a feed, making it at the first call. A customer
// may open the feed of a booking whose page they hold, staff those of their own account
// and role, and the owner a farm's.
func (s *Store) OpenFeed(ctx context.Context, by shop.Actor, kind string, subject int64) (link string, err error) {
	if err := mayOpen(by, kind, subject); err != nil {
		return "", err
	}
	f, err := one[shop.Feed](s.read(ctx), "kind = ? AND subject_id = ? AND revoked_at = 0", kind, subject)
	if err != nil {
		return "", err
	}
	if f == nil {
		err = s.tx(ctx, func(t tx) (err error) {
			if f, err = one[shop.Feed](t.DB, "kind = ? AND subject_id = ? AND revoked_at = 0", kind, subject); err != nil || f != nil {
				return err
			}
			f, err = t.newFeed(by, kind, subject)
			return err
		})
		if isDuplicate(err) { // somebody opened it this moment
			f, err = take[shop.Feed](s.read(ctx), "The calendar", "kind = ? AND subject_id = ? AND revoked_at = 0", kind, subject)
		}
		if err != nil {
			return "", err
		}
	}
	return s.Link("feed", f.LinkNo), nil
}

// RenewFeed gives a feed another address; the old one answers nobody any more.
func (s *Store) RenewFeed(ctx context.Context, by shop.Actor, kind string, subject int64) (link string, err error) {
	if err := mayOpen(by, kind, subject); err != nil {
		return "", err
	}
	var f *shop.Feed
	err = s.tx(ctx, func(t tx) (err error) {
		if err := t.Model(&shop.Feed{}).Where("kind = ? AND subject_id = ? AND revoked_at = 0", kind, subject).Update("revoked_at", t.now).Error; err != nil {
			return err
		}
		f, err = t.newFeed(by, kind, subject)
		return err
	})
	if isDuplicate(err) {
		return "", shop.ErrStale
	}
	if err != nil {
		return "", err
	}
	return s.Link("feed", f.LinkNo), nil
}

func (t tx) newFeed(by shop.Actor, kind string, subject int64) (*shop.Feed, error) {
	f := shop.Feed{Kind: kind, SubjectID: subject, CreatedAt: t.now}
	f.LinkNo, f.TokenHash = t.s.newLink("feed")
	if err := t.Create(&f).Error; err != nil {
		return nil, err
	}
	return &f, t.note(by, "feed", int64(f.ID), "opened", "", kind, fmt.Sprint(subject))
}

func mayOpen(by shop.Actor, kind string, subject int64) error {
	own := by.IsStaff() && subject == int64(by.ID)
	ok := false
	switch kind {
	case CustomerFeed:
		ok = by.Kind == "customer" || by.May(shop.Staff)
	case StaffFeed:
		ok = own && by.May(shop.Staff)
	case KitchenFeed:
		ok = own && by.May(shop.Kitchen)
	case OwnerFeed:
		ok = own && by.May()
	case FarmFeed:
		ok = by.Kind == "farm" || by.May()
	}
	if !ok {
		return shop.ErrNotAllowed
	}
	return nil
}

// one returns the row, or nil when there is none.
func one[T any](db *gorm.DB, where string, args ...any) (*T, error) {
	var v []T
	if err := db.Where(where, args...).Limit(1).Find(&v).Error; err != nil || len(v) == 0 {
		return nil, err
	}
	return &v[0], nil
}

// FeedEntries reads the feed behind a secret. An unknown or renewed address, a deleted
// booking and a disabled account all look the same: there is nothing here.
func (s *Store) FeedEntries(ctx context.Context, secret string) (*FeedView, error) {
	f, err := take[shop.Feed](s.read(ctx), "The calendar", "token_hash = ? AND revoked_at = 0", hashOf(secret))
	if err != nil {
		return nil, err
	}
	v := &FeedView{Kind: f.Kind, Today: s.Today(), Name: s.Config.Shop}
	switch f.Kind {
	case CustomerFeed:
		v.Entries, err = s.customerEntries(ctx, f.SubjectID)
	case FarmFeed:
		v.Name += ": kill and delivery"
		v.Entries, err = s.entries(ctx, "subject = 'order' AND kind IN ? AND subject_id IN (SELECT id FROM orders WHERE farm_id = ? AND asked_at > 0)", []string{"kill", "delivery"}, f.SubjectID)
	default:
		v.Name += ": " + f.Kind
		if err := s.feedAccount(ctx, f); err != nil {
			return nil, err
		}
		if err := s.refreshWork(ctx); err != nil {
			return nil, err
		}
		v.Entries, err = s.entries(ctx, "subject <> 'booking' AND kind IN ?", feedKinds[f.Kind])
	}
	if err != nil {
		return nil, err
	}
	return v, nil
}

// feedKinds are the kinds of entries in the feeds of the house.
var feedKinds = map[string][]string{
	StaffFeed:   {"class", "unbag", "smoke", "pack"},
	KitchenFeed: {"dinner"},
	OwnerFeed:   {"order-by", "decide", "kill", "delivery", "closed"},
}

// feedAccount refuses the feed of somebody who no longer works here, or no longer in
// the role it was opened for.
func (s *Store) feedAccount(ctx context.Context, f *shop.Feed) error {
	a, err := take[shop.Account](s.read(ctx), "The calendar", "id = ? AND disabled = ?", f.SubjectID, false)
	if err != nil {
		return err
	}
	if mayOpen(shop.Actor{Kind: "staff", ID: a.ID, Role: a.Role}, f.Kind, f.SubjectID) != nil {
		return shop.Missing("The calendar")
	}
	return nil
}

// entries reads calendar entries that are not long past, in order.
func (s *Store) entries(ctx context.Context, where string, args ...any) ([]shop.Entry, error) {
	since := s.Today() - keptDays
	return many[shop.Entry](s.read(ctx).Where("((day IS NOT NULL AND day >= ?) OR (day IS NULL AND starts_at >= ?))", since, since.At(0, 0, s.Loc)),
		"coalesce(day, ''), starts_at, uid", where, args...)
}

func (s *Store) customerEntries(ctx context.Context, id int64) ([]shop.Entry, error) {
	if _, err := take[shop.Booking](s.read(ctx), "The calendar", "id = ?", id); err != nil {
		return nil, err
	}
	return s.entries(ctx, "subject = 'booking' AND subject_id = ?", id)
}

// fewSeats is the number below which a public feed does not say how many seats are left.
const fewSeats = 3

// PublicEntries is the feed anybody may read: the classes on sale, and those that were
// and have been called off. No names, no private parties, no small numbers of seats.
func (s *Store) PublicEntries(ctx context.Context) (*FeedView, error) {
	type row struct {
		shop.Entry
		State      shop.ClassState
		Code       string
		Seats      int
		SeatsTaken int
	}
	since := s.Today() - keptDays
	var rows []row
	err := s.read(ctx).Raw(`SELECT entries.*, classes.state, classes.code, classes.seats, classes.seats_taken FROM entries
		JOIN classes ON classes.id = entries.subject_id AND entries.subject = 'class' AND entries.kind = 'class'
		WHERE classes.private = ? AND classes.state IN ? AND entries.starts_at >= ?
		ORDER BY entries.starts_at, entries.uid`,
		false, []shop.ClassState{shop.Open, shop.GoingAhead, shop.Taught, shop.ClosedOut, shop.ClassOff}, since.At(0, 0, s.Loc)).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	v := &FeedView{Kind: PublicFeed, Name: s.Config.Shop, Today: s.Today(), Entries: []shop.Entry{}}
	now := s.Now()
	for _, r := range rows {
		e := r.Entry
		e.Text = s.Config.BaseURL + "/classes/" + r.Code
		if r.State == shop.ClassOff {
			e.Cancelled = true
		} else if left := r.Seats - r.SeatsTaken; e.StartsAt > now && left >= fewSeats {
			e.Text = fmt.Sprintf("%d seats left.\n%s", left, e.Text)
		}
		v.Entries = append(v.Entries, e)
	}
	return v, nil
}

// ClassEntry is the entry of a booking's class, to keep in one's own calendar.
func (s *Store) ClassEntry(ctx context.Context, secret string) (*shop.Entry, error) {
	b, err := take[shop.Booking](s.read(ctx), "The booking", "token_hash = ?", hashOf(secret))
	if err != nil {
		return nil, err
	}
	return take[shop.Entry](s.read(ctx), "The class", "subject = 'booking' AND subject_id = ? AND kind = 'class'", b.ID)
}

// FeedLink is one calendar address on the page where staff find theirs.
type FeedLink struct {
	Kind    string
	Subject int64
	Title   string
	Holds   string // what is in it
	Link    string
}

// FeedsFor lists the calendars a signed-in person may subscribe to; the owner also finds
// the ones to hand to the farms.
func (s *Store) FeedsFor(ctx context.Context, by shop.Actor) ([]FeedLink, error) {
	own := int64(by.ID)
	all := []FeedLink{
		{Kind: StaffFeed, Subject: own, Title: "Staff", Holds: "Classes and private parties; unbagging, smoking and packing days with counts and first names."},
		{Kind: KitchenFeed, Subject: own, Title: "Kitchen", Holds: "Dinners with the number of heads."},
		{Kind: OwnerFeed, Subject: own, Title: "Owner", Holds: "Order-bys, decisions, kill days, deliveries, closed days."},
	}
	if by.May() {
		farms, err := many[shop.Farm](s.read(ctx), "name, id", "")
		if err != nil {
			return nil, err
		}
		for _, f := range farms {
			all = append(all, FeedLink{Kind: FarmFeed, Subject: int64(f.ID), Title: "For " + f.Name,
				Holds: "Kill days and deliveries of the animals this farm was asked for, nothing else. The page an order's mail leads to offers it too."})
		}
	}
	out := []FeedLink{}
	for _, f := range all {
		if mayOpen(by, f.Kind, f.Subject) != nil {
			continue
		}
		var err error
		if f.Link, err = s.OpenFeed(ctx, by, f.Kind, f.Subject); err != nil {
			return nil, err
		}
		out = append(out, f)
	}
	return out, nil
}

// BookingFeed is the address of a booking's calendar for whoever holds the booking's
// page; renew gives it another.
func (s *Store) BookingFeed(ctx context.Context, secret string, renew bool) (string, error) {
	b, err := take[shop.Booking](s.read(ctx), "The booking", "token_hash = ?", hashOf(secret))
	if err != nil {
		return "", err
	}
	return s.openOrRenew(ctx, shop.Customer("payer of "+b.Ref()), CustomerFeed, int64(b.ID), renew)
}

// OrderFarmFeed is the address of a farm's calendar for whoever holds the slip of one
// of its orders; renew gives it another.
func (s *Store) OrderFarmFeed(ctx context.Context, secret string, renew bool) (string, error) {
	o, err := take[shop.Order](s.read(ctx), "The order", "token_hash = ?", hashOf(secret))
	if err != nil {
		return "", err
	}
	farm, err := take[shop.Farm](s.read(ctx), "The farm", "id = ?", o.FarmID)
	if err != nil {
		return "", err
	}
	return s.openOrRenew(ctx, shop.Actor{Kind: "farm", Name: farm.Name}, FarmFeed, int64(farm.ID), renew)
}

func (s *Store) openOrRenew(ctx context.Context, by shop.Actor, kind string, subject int64, renew bool) (string, error) {
	if renew {
		return s.RenewFeed(ctx, by, kind, subject)
	}
	return s.OpenFeed(ctx, by, kind, subject)
}
