package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// RecallView is a recall as it stands: who has been told, who not.
type RecallView struct {
	shop.Recall
	Messages  int // left for sending
	Sent      int
	CameBack  int
	Waiting   int
	Unreached int // parties to tell whom nothing has reached yet
	NotLeft   int // of them, those for whom no message was left
}

// Reaching is one try to reach a party.
type Reaching struct {
	At    unit.Instant
	How   string // "message", "by phone or in person"
	To    string
	State string // "sent", "came back", "waiting to send", "reached", "not reached"
	Words string
	By    string
	Good  bool
}

// recallOf reads the recall of a trace and how each party was reached.
func (s *Store) recallOf(db *gorm.DB, tr *Traced) (*RecallView, error) {
	var v RecallView
	err := db.Where("handle = ?", tr.Path()).Take(&v.Recall).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	tries, err := s.reachings(db, &v)
	if err != nil {
		return nil, err
	}
	for i := range tr.Parties {
		p := &tr.Parties[i]
		p.Reached = tries[p.Booking]
		has := func(f func(Reaching) bool) bool { return slices.ContainsFunc(p.Reached, f) }
		p.Told = has(func(r Reaching) bool { return r.Good })
		p.Back = !p.Told && has(func(r Reaching) bool { return r.State == string(shop.CameBack) })
		if !p.Tell() {
			continue
		}
		if !p.Told {
			v.Unreached++
		}
		if !has(func(r Reaching) bool { return r.How == "message" }) {
			v.NotLeft++
		}
	}
	return &v, nil
}

func (s *Store) reachings(db *gorm.DB, v *RecallView) (map[shop.BookingID][]Reaching, error) {
	var sent []struct {
		shop.Notice
		BookingID shop.BookingID
	}
	err := db.Raw(`SELECT notices.*, recall_messages.booking_id FROM recall_messages JOIN notices ON notices.id = recall_messages.notice_id WHERE recall_messages.recall_id = ? ORDER BY notices.id, recall_messages.booking_id`, v.ID).Scan(&sent).Error
	if err != nil {
		return nil, err
	}
	calls, err := many[shop.RecallCall](db, "id", "recall_id = ?", v.ID)
	if err != nil {
		return nil, err
	}
	tries := map[shop.BookingID][]Reaching{}
	last := shop.NoticeID(0)
	for _, n := range sent {
		r := Reaching{At: n.SentAt, How: "message", To: n.ToName, State: string(n.State), Good: n.State == shop.Sent}
		if n.State == shop.ToSend {
			r.At = n.CreatedAt
			if n.LastError != "" {
				r.Words = "tried " + countWord(n.Attempts, "time", "times") + " and not gone"
			}
		}
		tries[n.BookingID] = append(tries[n.BookingID], r)
		if n.ID == last {
			continue // one message that speaks for two parties
		}
		last = n.ID
		v.Messages++
		switch n.State {
		case shop.Sent:
			v.Sent++
		case shop.CameBack:
			v.CameBack++
		case shop.ToSend:
			v.Waiting++
		}
	}
	for _, c := range calls {
		r := Reaching{At: c.At, How: "by phone or in person", State: "not reached", Words: c.Words, By: c.Actor, Good: c.Reached}
		if c.Reached {
			r.State = "reached"
		}
		tries[c.BookingID] = append(tries[c.BookingID], r)
	}
	return tries, nil
}

// Recalls lists all recalls, the newest first.
func (s *Store) Recalls(ctx context.Context) ([]shop.Recall, error) {
	return many[shop.Recall](s.read(ctx).Limit(100), "opened_at DESC, id DESC", "id > 0")
}

// recall finds the recall of a trace or opens it.
func (t tx) recall(by shop.Actor, tr *Traced, reason string) (*shop.Recall, error) {
	if tr.Recall != nil {
		if err := t.lock("recalls", int64(tr.Recall.ID)); err != nil {
			return nil, err
		}
		return &tr.Recall.Recall, nil
	}
	reason = trim(reason)
	if reason == "" {
		return nil, field("reason", "Say what is wrong, in a sentence its people may read.")
	}
	if len(reason) > 400 {
		return nil, field("reason", "At most 400 letters.")
	}
	r := &shop.Recall{Handle: tr.Path(), Name: tr.Name, Reason: reason, OpenedAt: t.now, OpenedBy: by.Name}
	if err := t.Create(r).Error; err != nil {
		if isDuplicate(err) {
			return nil, shop.ErrMoved
		}
		return nil, err
	}
	return r, t.note(by, "recall", int64(r.ID), "opened", "", tr.Name, reason)
}

func (s *Store) onTrace(ctx context.Context, by shop.Actor, h Handle, do func(tx, *Traced) error) error {
	if !by.IsStaff() || trim(by.Name) == "" {
		return shop.ErrNotAllowed
	}
	return s.tx(ctx, func(t tx) error {
		tr, err := s.trace(t.DB, h)
		if err != nil {
			return err
		}
		return do(t, tr)
	})
}

// RecallHold puts everything a trace finds in the house on hold, by a named person with a
// reason. It says how many slabs it stopped.
func (s *Store) RecallHold(ctx context.Context, by shop.Actor, h Handle, reason string) (held int, err error) {
	err = s.onTrace(ctx, by, h, func(t tx, tr *Traced) error {
		held = 0
		var ids []shop.SlabID
		for _, sl := range tr.Slabs {
			if sl.Stage == StageHere {
				ids = append(ids, sl.ID)
			}
		}
		if len(ids) == 0 {
			return shop.Stop("nothing_here", "Nothing of it is in the house that is not on hold already.")
		}
		r, err := t.recall(by, tr, reason)
		if err != nil {
			return err
		}
		slabs, err := many[shop.Slab](t.DB, "id", "id IN ?", ids)
		if err != nil {
			return err
		}
		held = len(slabs)
		_, err = t.openHold(by, nil, t.now, r.Name+": "+strings.TrimRight(r.Reason, ".!"), slabs)
		return err
	})
	return held, err
}

// toTell is one person a recall writes to, with everything said in the one message.
type toTell struct {
	notice   shop.Notice
	facts    shop.Facts
	bookings []shop.BookingID
}

// RecallTell writes to everybody who has something of a trace at home or ate of it: at
// once, at any hour, one message for each person. Who has had one is passed over, so that
// pressing again reaches only those found since. It says how many messages it left.
func (s *Store) RecallTell(ctx context.Context, by shop.Actor, h Handle, reason string) (left int, err error) {
	err = s.onTrace(ctx, by, h, func(t tx, tr *Traced) error {
		left = 0
		if !slices.ContainsFunc(tr.Parties, TracedParty.Tell) {
			return shop.Stop("nobody_to_tell", "Nobody has any of it at home, and nobody ate of it.")
		}
		r, err := t.recall(by, tr, reason)
		if err != nil {
			return err
		}
		people, err := t.peopleToTell(tr, r)
		if err != nil {
			return err
		}
		for _, p := range people {
			n, err := t.leaveRecall(r, p)
			if err != nil {
				return err
			}
			left += n
		}
		if left == 0 {
			return nil
		}
		return t.note(by, "recall", int64(r.ID), "told", "", tr.Name, countWord(left, "message", "messages"))
	})
	return left, err
}

// leaveRecall leaves one message, unless its address has had one of this recall.
func (t tx) leaveRecall(r *shop.Recall, p *toTell) (int, error) {
	var had []shop.NoticeID
	err := t.Raw("SELECT DISTINCT notices.id FROM recall_messages JOIN notices ON notices.id = recall_messages.notice_id WHERE recall_messages.recall_id = ? AND lower(notices.to_addr) = ?",
		r.ID, strings.ToLower(p.notice.ToAddr)).Scan(&had).Error
	if err != nil {
		return 0, err
	}
	fresh := 0
	if len(had) == 0 {
		if err := t.tell(p.notice, p.facts); err != nil {
			return 0, err
		}
		n, err := take[shop.Notice](t.DB, "The message", "key = ?", p.notice.Key)
		if err != nil {
			return 0, err
		}
		had, fresh = []shop.NoticeID{n.ID}, 1
	}
	for _, id := range p.bookings {
		err := t.Exec("INSERT INTO recall_messages (recall_id, booking_id, notice_id) SELECT ?, ?, ? WHERE NOT EXISTS (SELECT 1 FROM recall_messages WHERE recall_id = ? AND booking_id = ? AND notice_id = ?)",
			r.ID, id, had[0], r.ID, id, had[0]).Error
		if err != nil {
			return 0, err
		}
	}
	return fresh, nil
}

// peopleToTell gathers who is written to, each address once: the payer of every party, who
// fetched its bacon, and its guests who gave an address of their own. A guest reads of the
// own slab and dinner alone.
func (t tx) peopleToTell(tr *Traced, r *shop.Recall) ([]*toTell, error) {
	var order []*toTell
	at := map[string]*toTell{}
	add := func(n shop.Notice, b shop.BookingID, tags, ate, took []string) {
		if n.ToAddr == "" || len(tags)+len(ate)+len(took) == 0 {
			return
		}
		p := at[strings.ToLower(n.ToAddr)]
		if p == nil {
			n.Kind, n.Urgent = shop.NoticeRecall, true
			p = &toTell{notice: n, facts: shop.Facts{Reason: r.Reason}}
			at[strings.ToLower(n.ToAddr)] = p
			order = append(order, p)
		}
		p.facts.Tags, p.facts.Ate, p.facts.Took = addNew(p.facts.Tags, tags), addNew(p.facts.Ate, ate), addNew(p.facts.Took, took)
		if !slices.Contains(p.bookings, b) {
			p.bookings = append(p.bookings, b)
		}
	}
	for _, party := range tr.Parties {
		if !party.Tell() {
			continue
		}
		b, err := take[shop.Booking](t.DB, "The booking", "id = ?", party.Booking)
		if err != nil {
			return nil, err
		}
		ate, err := t.sessions(tr.Dinners, b.ID, 0)
		if err != nil {
			return nil, err
		}
		took, err := t.sessions(tr.Cut, b.ID, 0)
		if err != nil {
			return nil, err
		}
		add(t.toPayer(b, shop.NoticeRecall, fmt.Sprintf("recall/%d/b%d", r.ID, b.ID)), b.ID, party.Out, ate, took)
		add(t.toCollector(b, shop.NoticeRecall, fmt.Sprintf("recall/%d/c%d", r.ID, b.ID)), b.ID, party.Out, nil, nil)
		guests, err := many[shop.Guest](t.DB, "id", "booking_id = ? AND email <> ''", b.ID)
		if err != nil {
			return nil, err
		}
		for i := range guests {
			g := &guests[i]
			var tags []string
			for _, sl := range tr.Slabs {
				if sl.SeatGuest == g.ID && sl.Stage == StageOut {
					tags = append(tags, sl.Tag)
				}
			}
			if ate, err = t.sessions(tr.Dinners, b.ID, g.ID); err != nil {
				return nil, err
			}
			if took, err = t.sessions(tr.Cut, b.ID, g.ID); err != nil {
				return nil, err
			}
			add(t.toGuest(b, g, shop.NoticeRecall, fmt.Sprintf("recall/%d/g%d", r.ID, g.ID)), b.ID, tags, ate, took)
		}
	}
	return order, nil
}

// sessions names the classes among ds that guests of a booking came to, or one of them.
func (t tx) sessions(ds []TracedDinner, b shop.BookingID, g shop.GuestID) ([]string, error) {
	var out []string
	for _, d := range ds {
		came := slices.ContainsFunc(d.Guests, func(x TracedGuest) bool { return x.Ate && x.Booking == b && (g == 0 || x.Guest == g) })
		if !came {
			continue
		}
		c, err := take[shop.Class](t.DB, "The class", "id = ?", d.ID)
		if err != nil {
			return nil, err
		}
		k, err := t.kindOf(c)
		if err != nil {
			return nil, err
		}
		title := c.Title
		if title == "" {
			title = k.Name
		}
		out = append(out, title+", "+c.StartsAt.Show(t.s.Loc))
	}
	return out, nil
}

func addNew(list, more []string) []string {
	for _, m := range more {
		if !slices.Contains(list, m) {
			list = append(list, m)
		}
	}
	return list
}

// RecallCalled notes a try to reach a party otherwise than by message.
func (s *Store) RecallCalled(ctx context.Context, by shop.Actor, h Handle, booking int, reached bool, words string) error {
	return s.onTrace(ctx, by, h, func(t tx, tr *Traced) error {
		if tr.Recall == nil {
			return shop.Stop("no_recall", "Nothing is recalled here yet.")
		}
		i := slices.IndexFunc(tr.Parties, func(p TracedParty) bool { return p.Number == booking })
		if i < 0 {
			return shop.Stop("not_touched", "%s is not among those touched.", shop.Ref(booking))
		}
		words = trim(words)
		if words == "" || len(words) > 400 {
			return field(fmt.Sprintf("words%d", booking), "Write whom you spoke to and what was said, in at most 400 letters.")
		}
		c := shop.RecallCall{RecallID: tr.Recall.ID, BookingID: tr.Parties[i].Booking, Reached: reached, Words: words, At: t.now, Actor: by.Name}
		return t.Create(&c).Error
	})
}
