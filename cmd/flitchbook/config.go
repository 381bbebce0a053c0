package main

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"net"
	"net/netip"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/mail"
)

// What every run has from outside: chance and the time of day.
var (
	randomBytes io.Reader = rand.Reader
	wallClock             = time.Now
)

// A settingsError is a setting that cannot be worked with, in words for the person who
// wrote it.
type settingsError struct{ error }

func badSetting(format string, args ...any) error { return settingsError{fmt.Errorf(format, args...)} }

// databaseConfig is where the records are.
type databaseConfig struct {
	Database string `default:"sqlite:data/flitchbook.db" help:"Where the records are: sqlite:FILE or postgres://…" placeholder:"ADDRESS"`
}

// sqliteFile is the file of a SQLite database, or "".
func (c databaseConfig) sqliteFile() string {
	file, ok := strings.CutPrefix(c.Database, "sqlite:")
	if !ok {
		return ""
	}
	return file
}

// shopConfig is what every command on a shop's records needs.
type shopConfig struct {
	databaseConfig
	SecretFile string `default:"data/secret" help:"File with the key that secret links are derived from; made when absent. Keep a copy apart from the database." placeholder:"FILE"`
	BaseURL    string `default:"http://127.0.0.1:8080" help:"Address that customers reach the pages by; it stands in every mail." placeholder:"URL"`
	Domain     string `help:"Right-hand side of calendar UIDs and Message-IDs; kept for ever once used. None: the host of the base URL." placeholder:"NAME"`
	ShopMail   string `help:"Address the shop itself is written to: the list of the morning, alarms, farms' answers. None: nobody is told by mail." placeholder:"ADDRESS"`
	ShopName   string `help:"Name on the shop's door. None: the one of the furnishing." placeholder:"NAME"`
	RulesFile  string `help:"JSON file of house rules that differ from the usual ones." placeholder:"FILE"`
	LogFormat  string `default:"text" enum:"text,json" help:"How log lines look: text or json."`
	LogLevel   string `default:"info" enum:"debug,info,warn,error" help:"Least weight of a line that is logged: debug, info, warn or error."`
}

// base is the base URL, looked over.
func (c shopConfig) base() (*url.URL, error) {
	u, err := url.Parse(c.BaseURL)
	switch {
	case err != nil:
		return nil, badSetting("the base URL %q cannot be read: %v", c.BaseURL, err)
	case u.Scheme != "http" && u.Scheme != "https":
		return nil, badSetting("the base URL %q begins with neither http:// nor https://", c.BaseURL)
	case u.Host == "" || u.User != nil || u.RawQuery != "" || u.Fragment != "" || strings.Trim(u.Path, "/") != "":
		return nil, badSetting("the base URL %q must be a scheme and a host and nothing else, such as https://book.shop.example.test", c.BaseURL)
	}
	return u, nil
}

func (c shopConfig) logger(w io.Writer) *slog.Logger {
	var level slog.Level
	if err := level.UnmarshalText([]byte(c.LogLevel)); err != nil {
		level = slog.LevelInfo // kong lets nothing else through
	}
	o := &slog.HandlerOptions{Level: level}
	if c.LogFormat == "json" {
		return slog.New(slog.NewJSONHandler(w, o))
	}
	return slog.New(slog.NewTextHandler(w, o))
}

// rules are the house rules: the usual ones with what the file says put over them.
func (c shopConfig) rules() (shop.Rules, error) {
	r := shop.DefaultRules()
	if c.RulesFile == "" {
		return r, nil
	}
	b, err := os.ReadFile(c.RulesFile)
	if err != nil {
		return r, badSetting("the rules file cannot be read: %v", err)
	}
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(&r); err != nil {
		return r, badSetting("the rules file %s: %v", c.RulesFile, err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return r, badSetting("the rules file %s: there is something after the end of the rules", c.RulesFile)
	}
	if _, err := r.Location(); err != nil {
		return r, badSetting("the rules file %s: %v", c.RulesFile, err)
	}
	return r, nil
}

const secretBytes = 32

// secret reads the key of the secret links, making it when it is not there yet.
func (c shopConfig) secret(random io.Reader) ([]byte, error) {
	f, err := os.Open(c.SecretFile)
	if errors.Is(err, fs.ErrNotExist) {
		return newSecret(c.SecretFile, random)
	}
	if err != nil {
		return nil, badSetting("the secret file cannot be read: %v", err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	if info.Mode().Perm()&0o077 != 0 {
		return nil, badSetting("others can read the secret file %s (%s); take that away with: chmod 600 %s", c.SecretFile, info.Mode().Perm(), c.SecretFile)
	}
	b, err := io.ReadAll(io.LimitReader(f, 4096))
	if err != nil {
		return nil, err
	}
	if len(b) < secretBytes {
		return nil, badSetting("the secret file %s has %d bytes, at least %d are needed; it may have been cut short", c.SecretFile, len(b), secretBytes)
	}
	return b, nil
}

// newSecret makes the file whole or not at all, and never over one that is there.
func newSecret(name string, random io.Reader) ([]byte, error) {
	b := make([]byte, secretBytes)
	if _, err := io.ReadFull(random, b); err != nil {
		return nil, err
	}
	if err := os.MkdirAll(filepath.Dir(name), 0o700); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil, err
	}
	_, err = f.Write(b)
	if err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return nil, errors.Join(err, os.Remove(name))
	}
	return b, nil
}

// Names under which the records keep what must outlive a restart.
const (
	domainSetting = "domain"
	nameSetting   = "shop_name"
)

// openStore opens the shop's records with the settings given and those they keep.
func openStore(ctx context.Context, c shopConfig, now func() time.Time, random io.Reader, log *slog.Logger) (*store.Store, error) {
	base, err := c.base()
	if err != nil {
		return nil, err
	}
	rules, err := c.rules()
	if err != nil {
		return nil, err
	}
	if file := c.sqliteFile(); file != "" {
		if err := ownFile(file); err != nil {
			return nil, err
		}
	}
	secret, err := c.secret(random)
	if err != nil {
		return nil, err
	}
	if c.ShopMail != "" {
		if err := mail.CheckAddress(c.ShopMail); err != nil {
			return nil, badSetting("--shop-mail: %v", err)
		}
	}
	domain := c.Domain
	if domain == "" {
		domain = base.Hostname()
		if !strings.Contains(domain, ".") {
			domain += ".localdomain"
		}
	}
	st, err := store.Open(ctx, store.Config{
		URL: c.Database, BaseURL: c.BaseURL, Domain: domain, Secret: secret, Rules: rules,
		Shop: c.ShopName, Mail: c.ShopMail, Now: now, Log: log,
	})
	if err != nil {
		return nil, err
	}
	if err := keepSettings(ctx, st, c); err != nil {
		return nil, errors.Join(err, st.Close())
	}
	return st, nil
}

// ownFile makes a file that only its owner reads, if there is none: it will hold names
// and what people cannot eat.
func ownFile(name string) error {
	if err := os.MkdirAll(filepath.Dir(name), 0o700); err != nil {
		return err
	}
	f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return badSetting("the database file cannot be opened: %v", err)
	}
	return f.Close()
}

// keepSettings holds the settings against what the records were begun with: another
// domain would turn every calendar entry already sent into a stranger.
func keepSettings(ctx context.Context, st *store.Store, c shopConfig) error {
	was, err := st.Setting(ctx, domainSetting)
	if err != nil {
		return err
	}
	switch {
	case was == "":
		if err := st.SetSetting(ctx, domainSetting, st.Config.Domain); err != nil {
			return err
		}
	case c.Domain == "":
		st.Config.Domain = was
	case c.Domain != was:
		return badSetting("the domain is %q, but these records were begun with %q, and calendar entries already sent carry it; give --domain %s or nothing", c.Domain, was, was)
	}
	if st.Config.Shop == "" {
		if st.Config.Shop, err = st.Setting(ctx, nameSetting); err != nil {
			return err
		}
	}
	if st.Config.Shop == "" {
		st.Config.Shop = "The shop"
	}
	return nil
}

// isLoopback says whether a host is this machine alone.
func isLoopback(host string) bool {
	if host == "localhost" {
		return true
	}
	a, err := netip.ParseAddr(strings.Trim(host, "[]"))
	return err == nil && a.IsLoopback()
}

func hostOf(address string) string {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return address
	}
	return host
}
