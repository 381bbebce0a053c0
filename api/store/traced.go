package store

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/inspection"
	"flitchbook/planner/unit"
)

// Traced is all that hangs on one handle: back to the farms and lots, forward to places
// and people.
type Traced struct {
	Handle
	Name    string
	What    string
	Facts   []TraceFact  // of the thing itself
	Near    []TraceHit   // the next things up and down the thread
	Meat    []TracedMeat // where the slabs' meat came from
	Lots    []TracedLot  // what is on or round the slabs
	Jars    []TracedJar
	Slabs   []TracedSlab
	Dinners []TracedDinner
	Cut     []TracedDinner // clinics that took the animal apart and carried shares home
	Grinds  []GrindLotView
	Parties []TracedParty
	Here    int // slabs that are still in the house
	Held    int // of them on hold
	Out     int // handed out
	Gone    int // dumped, replaced or given up
	Ate     int // guests
	Recall  *RecallView
}

// TraceFact is one line about the thing itself.
type TraceFact struct{ Name, Text, Path string }

// TracedMeat is one delivery that slabs came from.
type TracedMeat struct {
	DeliveryID  int64
	Farm        string
	Plant       string
	PlantNumber string
	Legend      string
	Lot         string
	KilledOn    unit.Day
	DeliveredOn unit.Day
	Keep        unit.Day `gorm:"-"` // its papers are kept to then
	Slabs       int
}

// TracedLot is an ingredient lot on slabs.
type TracedLot struct {
	ID         int64
	Ingredient string
	Code       string
	Supplier   string
	Slabs      int
}

// TracedJar is a stay of a lot in a jar, and the classes whose table the jar stood on.
type TracedJar struct {
	Code, Name string
	FromAt     unit.Instant
	UntilAt    unit.Instant
	LotID      int64
	Lot        string
	Classes    []string `gorm:"-"`
}

// TracedSlab is where one slab is now, or where it went.
type TracedSlab struct {
	ID        shop.SlabID
	Tag       string
	Class     string
	Booking   shop.BookingID
	Ref       string `gorm:"-"`
	Payer     string
	Guest     string // first name, "the shop" for its own
	State     shop.SlabState
	HeldFrom  shop.SlabState
	Jar       string
	Room      string
	Place     string
	Stage     Stage  `gorm:"-"`
	Where     string `gorm:"-"`
	HandedAt  unit.Instant
	HandedTo  string
	SeatGuest shop.GuestID
}

// Stage is how far a slab is out of the shop's hands.
type Stage string

// The stages.
const (
	StageHere Stage = "here"
	StageHeld Stage = "on hold"
	StageOut  Stage = "handed out"
	StageGone Stage = "gone"
)

// TracedDinner is a class whose guests ate of it, or carried shares home.
type TracedDinner struct {
	ID       shop.ClassID `json:"-"`
	Code     string
	StartsAt unit.Instant
	Why      string        `gorm:"-"` // how it came there
	Guests   []TracedGuest `gorm:"-"`
}

// Parties counts the bookings among the guests.
func (d TracedDinner) Parties() int {
	n := map[shop.BookingID]bool{}
	for _, g := range d.Guests {
		n[g.Booking] = true
	}
	return len(n)
}

// TracedGuest is somebody at a dinner.
type TracedGuest struct {
	Booking shop.BookingID
	Guest   shop.GuestID
	Ref     string
	Name    string
	Ate     bool // came; else still to come
}

// TracedParty is everybody of one booking that a trace touches.
type TracedParty struct {
	Booking shop.BookingID
	Number  int
	Ref     string
	Payer   string
	Phone   string
	Mail    bool
	Here    []string // tags
	Out     []string
	Gone    []string
	Ate     []string // "8 guests at D1"
	Cut     []string
	Reached []Reaching // messages of the recall, and calls
	Told    bool       // a message left, or somebody reached them
	Back    bool       // a message came back and nothing since reached them
}

// Tell says whether a recall has to reach this party: it has something at home or ate.
func (p TracedParty) Tell() bool { return len(p.Out)+len(p.Ate)+len(p.Cut) > 0 }

// ever stands for the end of a span that is not over.
const ever = unit.Instant(math.MaxInt64)

// reach is how a handle leads to slabs, dinners and classes: queries for their ids.
type reach struct {
	slabs      string
	slabArgs   []any
	dinners    string // class ids
	dinnerWhy  string
	dinnerArgs []any
	animals    string // animal ids, where the handle is about whole animals
	animalArgs []any
}

const (
	fromAnimals   = "SELECT slabs.id FROM slabs JOIN bellies ON bellies.id = slabs.belly_id JOIN sides ON sides.id = bellies.side_id JOIN animals ON animals.id = sides.animal_id "
	mealOf        = "SELECT class_id FROM dinner_meats WHERE ended_at = 0 AND delivery_id IN "
	ofOrder       = "JOIN orders ON orders.id = animals.order_id JOIN deliveries ON deliveries.id = animals.delivery_id "
	mealWhy       = "its meat came from this delivery"
	animalMealWhy = "its meat came from the same delivery; which animal of it was not noted"
)

func (h Handle) reach(s *Store, id int64) reach {
	lo, hi := h.From, h.Until
	if hi == 0 {
		hi = ever
	}
	switch h.Kind {
	case "slab":
		return reach{slabs: "SELECT id FROM slabs WHERE id = ?", slabArgs: []any{id}}
	case "belly":
		return reach{slabs: "SELECT id FROM slabs WHERE belly_id = ?", slabArgs: []any{id}}
	case "side":
		return reach{slabs: fromAnimals + "WHERE sides.id = ?", slabArgs: []any{id}, animals: "SELECT animal_id FROM sides WHERE id = ?", animalArgs: []any{id},
			dinners: mealOf + "(SELECT delivery_id FROM animals JOIN sides ON sides.animal_id = animals.id WHERE sides.id = ?)", dinnerArgs: []any{id}, dinnerWhy: animalMealWhy}
	case "animal":
		return reach{slabs: fromAnimals + "WHERE animals.id = ?", slabArgs: []any{id}, animals: "SELECT id FROM animals WHERE id = ?", animalArgs: []any{id},
			dinners: mealOf + "(SELECT delivery_id FROM animals WHERE id = ?)", dinnerArgs: []any{id}, dinnerWhy: animalMealWhy}
	case "delivery":
		return reach{slabs: fromAnimals + "WHERE animals.delivery_id = ?", slabArgs: []any{id}, animals: "SELECT id FROM animals WHERE delivery_id = ?", animalArgs: []any{id},
			dinners: mealOf + "(?)", dinnerArgs: []any{id}, dinnerWhy: mealWhy}
	case "farm", "plant":
		where := "WHERE orders.farm_id = ? AND deliveries.at >= ? AND deliveries.at <= ?"
		if h.Kind == "plant" {
			where = "JOIN kill_days ON kill_days.id = orders.kill_day_id WHERE kill_days.plant_id = ? AND deliveries.at >= ? AND deliveries.at <= ?"
		}
		args := []any{id, lo, hi}
		return reach{slabs: fromAnimals + ofOrder + where, slabArgs: args, animals: "SELECT animals.id FROM animals " + ofOrder + where, animalArgs: args,
			dinners: mealOf + "(SELECT animals.delivery_id FROM animals " + ofOrder + where + ")", dinnerArgs: args, dinnerWhy: mealWhy}
	case "lot":
		return reach{slabs: "SELECT weigh_outs.slab_id FROM weigh_out_lots JOIN weigh_outs ON weigh_outs.id = weigh_out_lots.weigh_out_id WHERE weigh_out_lots.lot_id = ? UNION SELECT slab_id FROM bag_uses WHERE lot_id = ?",
			slabArgs: []any{id, id}, dinners: "SELECT class_id FROM dinner_lots WHERE ended_at = 0 AND lot_id = ?", dinnerArgs: []any{id}, dinnerWhy: "the kitchen used this lot"}
	case "jar":
		return reach{slabs: "SELECT weigh_outs.slab_id FROM weigh_outs JOIN cure_tickets ON cure_tickets.id = weigh_outs.ticket_id WHERE cure_tickets.jar_id = ? AND weigh_outs.at >= ? AND weigh_outs.at <= ?", slabArgs: []any{id, lo, hi}}
	case "room":
		return reach{slabs: "SELECT placements.slab_id FROM placements JOIN places ON places.id = placements.place_id WHERE places.room_id = ? AND placements.since <= ? AND (placements.until_at = 0 OR placements.until_at >= ?)", slabArgs: []any{id, hi, lo}}
	case "load":
		d := unit.Day(id)
		return reach{slabs: "SELECT slab_id FROM steps WHERE to_state = ? AND counted = ? AND done_at >= ? AND done_at < ?", slabArgs: []any{shop.InSmoke, true, d.At(0, 0, s.Loc), (d + 1).At(0, 0, s.Loc)}}
	case "scale":
		return reach{slabs: "SELECT slab_id FROM weigh_outs WHERE scale_id = ? AND at >= ? AND at <= ?", slabArgs: []any{id, lo, hi}}
	}
	return reach{slabs: "SELECT id FROM slabs WHERE id = 0"}
}

// withCandidates adds the slabs that may be what a handle leads to: pieces whose tags were
// lost and which were shared out among equals carry every slab they may be (R35).
func (r reach) withCandidates(h Handle) reach {
	if h.Kind == "slab" || h.Kind == "load" {
		return r // what bears the tag, what hung there
	}
	r.slabArgs = append(slices.Clone(r.slabArgs), r.slabArgs...)
	r.slabs += " UNION SELECT slab_id FROM slab_candidates WHERE candidate_id IN (" + r.slabs + ")"
	return r
}

// back is the same with everything the slabs may be, for where they came from.
func (r reach) back() (string, []any) {
	return r.slabs + " UNION SELECT candidate_id FROM slab_candidates WHERE slab_id IN (" + r.slabs + ")", append(slices.Clone(r.slabArgs), r.slabArgs...)
}

// Trace follows a handle both ways, from the records as they are now.
func (s *Store) Trace(ctx context.Context, h Handle) (*Traced, error) {
	return s.trace(s.read(ctx), h)
}

func (s *Store) trace(db *gorm.DB, h Handle) (*Traced, error) {
	tr, id, err := s.identify(db, h)
	if err != nil {
		return nil, err
	}
	if err := s.follow(db, tr, h.reach(s, id).withCandidates(h), id); err != nil {
		return nil, fmt.Errorf("trace %s: %w", h.Path(), err)
	}
	tr.Recall, err = s.recallOf(db, tr)
	return tr, err
}

func (s *Store) follow(db *gorm.DB, tr *Traced, r reach, id int64) error {
	if err := s.tracedSlabs(db, tr, r); err != nil {
		return err
	}
	back, backArgs := r.back()
	err := db.Raw(`SELECT deliveries.id AS delivery_id, farms.name AS farm, plants.name AS plant, plants.number AS plant_number, deliveries.legend, deliveries.lot, animals.killed_on, deliveries.day AS delivered_on, count(*) AS slabs
		FROM slabs JOIN bellies ON bellies.id = slabs.belly_id JOIN sides ON sides.id = bellies.side_id JOIN animals ON animals.id = sides.animal_id JOIN deliveries ON deliveries.id = animals.delivery_id
		JOIN orders ON orders.id = animals.order_id JOIN farms ON farms.id = orders.farm_id JOIN kill_days ON kill_days.id = orders.kill_day_id JOIN plants ON plants.id = kill_days.plant_id
		WHERE slabs.id IN (`+back+`) GROUP BY deliveries.id, farms.name, plants.name, plants.number, deliveries.legend, deliveries.lot, animals.killed_on, deliveries.day ORDER BY deliveries.id`, backArgs...).Scan(&tr.Meat).Error
	if err != nil {
		return err
	}
	for i := range tr.Meat {
		tr.Meat[i].Keep = inspection.KeepPurchase(tr.Meat[i].DeliveredOn)
	}
	err = db.Raw(`SELECT l.id, l.ingredient, l.code, l.supplier, count(DISTINCT u.slab_id) AS slabs FROM (
			SELECT weigh_out_lots.lot_id, weigh_outs.slab_id FROM weigh_out_lots JOIN weigh_outs ON weigh_outs.id = weigh_out_lots.weigh_out_id WHERE weigh_outs.slab_id IN (`+back+`)
			UNION SELECT lot_id, slab_id FROM bag_uses WHERE slab_id IN (`+back+`)) u
		JOIN ingredient_lots l ON l.id = u.lot_id GROUP BY l.id, l.ingredient, l.code, l.supplier ORDER BY l.ingredient, l.id`, slices.Concat(backArgs, backArgs)...).Scan(&tr.Lots).Error
	if err != nil {
		return err
	}
	if err := s.tracedDinners(db, tr, r); err != nil {
		return err
	}
	if r.animals != "" {
		if err := s.tracedCut(db, tr, r); err != nil {
			return err
		}
		if tr.Grinds, err = s.grindsOf(db, r.animals, r.animalArgs); err != nil {
			return err
		}
	}
	if tr.Kind == "grind" {
		if tr.Grinds, err = s.grindsFrom(db, shop.GrindID(id)); err != nil {
			return err
		}
	}
	if err := s.tracedJars(db, tr, id); err != nil {
		return err
	}
	return s.tracedParties(db, tr)
}

func (s *Store) tracedSlabs(db *gorm.DB, tr *Traced, r reach) error {
	err := db.Raw(`SELECT slabs.id, slabs.tag, classes.code AS class, coalesce(seats.booking_id, 0) AS booking, coalesce(bookings.payer_name, '') AS payer, coalesce(guests.name, '') AS guest, coalesce(guests.id, 0) AS seat_guest,
			slabs.state, slabs.held_from, coalesce(jars.code, '') AS jar, coalesce(rooms.name, '') AS room, coalesce(places.code, '') AS place, coalesce(handed.done_at, 0) AS handed_at, coalesce(handed.reading, '') AS handed_to
		FROM slabs JOIN classes ON classes.id = slabs.class_id LEFT JOIN seats ON seats.id = slabs.seat_id LEFT JOIN bookings ON bookings.id = seats.booking_id LEFT JOIN guests ON guests.id = seats.guest_id
		LEFT JOIN jars ON jars.id = slabs.jar_id LEFT JOIN placements ON placements.slab_id = slabs.id AND placements.until_at = 0 LEFT JOIN places ON places.id = placements.place_id LEFT JOIN rooms ON rooms.id = places.room_id
		LEFT JOIN steps handed ON handed.slab_id = slabs.id AND handed.to_state = ? AND handed.counted = ?
		WHERE slabs.id IN (`+r.slabs+`) ORDER BY classes.starts_at, classes.code, slabs.number`, append([]any{shop.Collected, true}, r.slabArgs...)...).Scan(&tr.Slabs).Error
	if err != nil {
		return err
	}
	for i := range tr.Slabs {
		sl := &tr.Slabs[i]
		sl.Guest = firstName(sl.Guest)
		if sl.Booking == 0 {
			sl.Guest = "the shop"
		}
		sl.HandedTo = strings.TrimPrefix(sl.HandedTo, "to ")
		at := sl.Place
		if sl.Room != "" {
			at += ", " + strings.ToLower(sl.Room)
		}
		switch sl.State {
		case shop.Collected:
			sl.Stage, sl.Where = StageOut, "handed out "+sl.HandedAt.Show(s.Loc)+" to "+sl.HandedTo
			tr.Out++
			continue
		case shop.Dumped, shop.Replaced, shop.GivenUp:
			sl.Stage, sl.Where = StageGone, string(sl.State)
			tr.Gone++
			continue
		case shop.OnHold:
			sl.Stage = StageHeld
			tr.Held++
		default:
			sl.Stage = StageHere
		}
		tr.Here++
		sl.Where = at
		if at == "" {
			sl.Where = "in the house, no place noted"
		}
	}
	return nil
}

func (s *Store) tracedDinners(db *gorm.DB, tr *Traced, r reach) error {
	if r.dinners == "" {
		return nil
	}
	err := db.Raw("SELECT id, code, starts_at FROM classes WHERE id IN ("+r.dinners+") AND state <> ? ORDER BY starts_at, code", append(slices.Clone(r.dinnerArgs), shop.ClassOff)...).Scan(&tr.Dinners).Error
	if err != nil {
		return err
	}
	for i := range tr.Dinners {
		d := &tr.Dinners[i]
		d.Why = r.dinnerWhy
		if d.Guests, err = s.guestsAt(db, d.ID); err != nil {
			return err
		}
		for _, g := range d.Guests {
			if g.Ate {
				tr.Ate++
			}
		}
	}
	return nil
}

// guestsAt are the people of a class who came, or who may yet.
func (s *Store) guestsAt(db *gorm.DB, id shop.ClassID) ([]TracedGuest, error) {
	var rows []struct {
		BookingID shop.BookingID
		GuestID   shop.GuestID
		Number    int
		Name      string
		State     shop.BookingState
	}
	err := db.Raw(`SELECT seats.booking_id, seats.guest_id, bookings.number, guests.name, seats.state FROM seats JOIN bookings ON bookings.id = seats.booking_id JOIN guests ON guests.id = seats.guest_id
		WHERE seats.class_id = ? AND seats.state IN ? ORDER BY bookings.number, seats.position, seats.id`, id, []shop.BookingState{shop.Came, shop.Firm}).Scan(&rows).Error
	var out []TracedGuest
	for _, r := range rows {
		out = append(out, TracedGuest{r.BookingID, r.GuestID, shop.Ref(r.Number), r.Name, r.State == shop.Came})
	}
	return out, err
}

func (s *Store) tracedCut(db *gorm.DB, tr *Traced, r reach) error {
	args := append(append(slices.Clone(r.animalArgs), r.animalArgs...), shop.ClassOff)
	err := db.Raw(`SELECT classes.id, classes.code, classes.starts_at FROM classes JOIN class_kinds ON class_kinds.id = classes.kind_id WHERE class_kinds.slabs = ? AND classes.id IN (SELECT class_id FROM claims WHERE ended_at = 0 AND class_id <> 0
		AND (piece = 'animal' AND subject_id IN (`+r.animals+`) OR piece IN ('side', 'hindquarter', 'forequarter') AND subject_id IN (SELECT id FROM sides WHERE animal_id IN (`+r.animals+`)))) AND classes.state <> ? ORDER BY classes.starts_at`,
		append([]any{false}, args...)...).Scan(&tr.Cut).Error
	if err != nil {
		return err
	}
	for i := range tr.Cut {
		tr.Cut[i].Why = "cut it at the table and took shares home"
		if tr.Cut[i].Guests, err = s.guestsAt(db, tr.Cut[i].ID); err != nil {
			return err
		}
	}
	return nil
}

// tracedJars lists the jars a lot stood in, or the lots a jar held in the span, with the
// classes whose table had the jar.
func (s *Store) tracedJars(db *gorm.DB, tr *Traced, id int64) error {
	const stays = "SELECT jars.code, jars.name, jar_lots.from_at, jar_lots.until_at, l.id AS lot_id, l.ingredient || ' ' || l.code AS lot FROM jar_lots JOIN jars ON jars.id = jar_lots.jar_id JOIN ingredient_lots l ON l.id = jar_lots.lot_id WHERE "
	hi := tr.Until
	if hi == 0 {
		hi = ever
	}
	var err error
	switch tr.Kind {
	case "lot":
		err = db.Raw(stays+"jar_lots.lot_id = ? ORDER BY jars.id, jar_lots.from_at", id).Scan(&tr.Jars).Error
	case "jar":
		err = db.Raw(stays+"jar_lots.jar_id = ? AND jar_lots.from_at <= ? AND (jar_lots.until_at = 0 OR jar_lots.until_at >= ?) ORDER BY jar_lots.from_at, l.id", id, hi, tr.From).Scan(&tr.Jars).Error
	default:
		return nil
	}
	if err != nil {
		return err
	}
	for i := range tr.Jars {
		j := &tr.Jars[i]
		end := j.UntilAt
		if end == 0 {
			end = min(hi, s.Now())
		}
		err := db.Raw(`SELECT classes.code FROM classes JOIN class_kinds ON class_kinds.id = classes.kind_id WHERE class_kinds.slabs = ? AND classes.state <> ? AND classes.ends_at >= ? AND classes.starts_at <= ?
			AND NOT EXISTS (SELECT 1 FROM jars_away JOIN jars ON jars.id = jars_away.jar_id WHERE jars_away.class_id = classes.id AND jars.code = ?) ORDER BY classes.starts_at`, true, shop.ClassOff, max(j.FromAt, tr.From), min(end, hi), j.Code).Scan(&j.Classes).Error
		if err != nil {
			return err
		}
	}
	return nil
}

func keyID(h Handle) (int64, error) {
	id, err := strconv.ParseInt(h.Key, 10, 64)
	if err != nil {
		return 0, shop.Missing("The " + handleKinds[h.Kind])
	}
	return id, nil
}
