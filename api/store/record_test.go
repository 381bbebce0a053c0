package store_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gorm.io/gorm"
	"gorm.io/gorm/schema"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// records are all records, each after those it points to.
func records() []schema.Tabler {
	return []schema.Tabler{
		&shop.ClassKind{}, &shop.Price{}, &shop.Plant{}, &shop.PlantClosure{}, &shop.KillDay{}, &shop.Slot{},
		&shop.Farm{}, &shop.YieldProfile{}, &shop.Order{}, &shop.Class{}, &shop.OrderLine{}, &shop.ClosedDay{}, &shop.CuttingTest{}, &shop.Outlet{}, &shop.Invoice{},
		&shop.Booking{}, &shop.Guest{}, &shop.Need{}, &shop.Seat{}, &shop.Jar{}, &shop.JarAway{}, &shop.Dish{}, &shop.MenuDish{}, &shop.ClassDish{}, &shop.Pick{},
		&shop.SeatHold{}, &shop.WaitingEntry{}, &shop.Resale{}, &shop.Voucher{}, &shop.Credit{}, &shop.Payment{}, &shop.LedgerEntry{}, &shop.LedgerLine{}, &shop.Checkout{}, &shop.Refund{},
		&shop.Delivery{}, &shop.DinnerChoice{}, &shop.Animal{}, &shop.Side{}, &shop.Belly{}, &shop.Claim{}, &shop.Slab{}, &shop.Step{},
		&shop.Recipe{}, &shop.CureLimit{}, &shop.IngredientLot{}, &shop.JarLot{}, &shop.Scale{}, &shop.ScaleCheck{}, &shop.CureTicket{},
		&shop.WeighOut{}, &shop.WeighOutLot{}, &shop.DinnerIngredient{}, &shop.BagUse{}, &shop.Recall{}, &shop.RecallCall{}, &shop.Drill{}, &shop.Grind{}, &shop.GrindSource{}, &shop.Room{}, &shop.Place{}, &shop.Placement{}, &shop.SmokeLoad{},
		&shop.LoadSlab{}, &shop.SmokeLine{}, &shop.LoadAnswer{}, &shop.HookPlan{}, &shop.ProbeReading{}, &shop.RoomNote{}, &shop.Hold{}, &shop.HoldSlab{},
		&shop.LostTags{}, &shop.LostSlab{}, &shop.FoundPiece{}, &shop.SlabCandidate{}, &shop.Amend{}, &shop.Notice{}, &shop.RecallMessage{},
		&shop.Entry{}, &shop.Feed{}, &shop.Account{}, &shop.History{},
		&shop.PrivateOffer{}, &shop.QuoteRequest{}, &shop.Review{},
	}
}

// others are the tables that are no records of the shop.
var others = []string{"goose_db_version", "repeat_keys", "sessions", "settings"}

// filled gives every field a value of its own that is not the zero value, and every key
// the same one, so that each row points to the only row there is.
func filled(t *testing.T, r schema.Tabler) {
	t.Helper()
	v := reflect.ValueOf(r).Elem()
	for i := range v.NumField() {
		f, name := v.Field(i), v.Type().Field(i).Name
		switch {
		case f.Type() == reflect.TypeFor[unit.Day]():
			f.SetInt(int64(20_900 - i))
		case f.CanInt() && (name == "ID" || strings.HasSuffix(f.Type().Name(), "ID")):
			f.SetInt(7)
		case f.CanInt():
			f.SetInt(int64(1000 - i))
		case f.Kind() == reflect.Bool:
			f.SetBool(true)
		case f.Type() == reflect.TypeFor[*unit.Temp]():
			temp := unit.Temp(1000 - i)
			f.Set(reflect.ValueOf(&temp))
		case f.Kind() == reflect.String:
			f.SetString("Šunka „" + name + "“ 🥓")
		default:
			t.Fatalf("%s.%s: a %s has no value here yet", r.TableName(), name, f.Type())
		}
	}
	switch r := r.(type) { // what the database's checks ask for
	case *shop.Class:
		r.EndsAt = r.StartsAt + 10_800
	case *shop.Seat:
		r.Slabs = 2
	case *shop.LostTags:
		r.Out = r.In
	case *shop.RoomNote:
		r.To = r.From + 900
	case *shop.Amend:
		r.Choice = shop.AmendAgain
	case *shop.PrivateOffer:
		r.Most = r.Least + 1
	case *shop.Account:
		r.Role = shop.Owner
	}
}

// TestEveryRecordIsKeptWhole writes every record with something in every field and reads
// it back; no column is without a field, no field without a column, no table without a record.
func TestEveryRecordIsKeptWhole(t *testing.T) {
	test := func(t *testing.T, h *storetest.House) {
		h.Broken = true // rows without sense
		tables := map[string]bool{}
		for _, r := range records() {
			filled(t, r)
			tables[r.TableName()] = true
			err := h.Rows(h.Ctx, func(g *gorm.DB) error {
				if err := g.Create(r).Error; err != nil {
					return err
				}
				back := reflect.New(reflect.SliceOf(reflect.TypeOf(r).Elem()))
				if err := g.Find(back.Interface()).Error; err != nil {
					return err
				}
				want := reflect.Append(reflect.Zero(back.Type().Elem()), reflect.ValueOf(r).Elem())
				if d := cmp.Diff(want.Interface(), back.Elem().Interface()); d != "" {
					t.Errorf("%s: written (-) and read (+):\n%s", r.TableName(), d)
				}
				sch, err := schema.Parse(r, &sync.Map{}, schema.NamingStrategy{})
				if err != nil {
					return err
				}
				var row map[string]any
				if err := g.Table(r.TableName()).Take(&row).Error; err != nil {
					return err
				}
				for col, v := range row {
					if sch.LookUpField(col) == nil {
						t.Errorf("%s.%s is a column without a field", r.TableName(), col)
					} else if v == nil || reflect.ValueOf(v).IsZero() {
						t.Errorf("%s.%s holds %v, something was written", r.TableName(), col, v)
					}
				}
				if n := reflect.TypeOf(r).Elem().NumField(); len(row) != n {
					t.Errorf("%s: %d fields, %d columns", r.TableName(), n, len(row))
				}
				return nil
			})
			if err != nil {
				t.Fatalf("%s: %v", r.TableName(), err)
			}
		}
		var all []string
		err := h.Rows(h.Ctx, func(g *gorm.DB) (err error) { all, err = g.Migrator().GetTables(); return err })
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range all {
			if !tables[n] && !slices.Contains(others, n) && !strings.HasPrefix(n, "sqlite_") {
				t.Errorf("table %s has no record", n)
			}
		}
	}
	t.Run("sqlite", func(t *testing.T) {
		test(t, storetest.Bare(t, "sqlite:"+filepath.Join(t.TempDir(), "shop.db")))
	})
	t.Run("postgres", func(t *testing.T) { test(t, storetest.Bare(t, storetest.PostgresSchema(t))) })
}

// TestListOfRecords keeps the list above complete.
func TestListOfRecords(t *testing.T) {
	var want, got []string
	files, err := filepath.Glob("../shop/*.go")
	if err != nil || len(files) == 0 {
		t.Fatal("no source found", err)
	}
	for _, name := range files {
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range f.Decls {
			if fn, ok := d.(*ast.FuncDecl); ok && fn.Name.Name == "TableName" {
				want = append(want, fn.Recv.List[0].Type.(*ast.Ident).Name)
			}
		}
	}
	for _, r := range records() {
		got = append(got, reflect.TypeOf(r).Elem().Name())
	}
	slices.Sort(want)
	slices.Sort(got)
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("api/shop (-) and the list (+):\n%s", d)
	}
}
