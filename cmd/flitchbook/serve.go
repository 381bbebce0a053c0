package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"os"
	"sync"
	"time"

	"flitchbook/api/store"
	"flitchbook/mail"
)

// serveConfig is how the pages are served.
type serveConfig struct {
	Listen       string        `default:"127.0.0.1:8080" help:"Address and port to listen on." placeholder:"ADDRESS"`
	TLSCert      string        `help:"Certificate file, when the program itself speaks TLS." placeholder:"FILE"`
	TLSKey       string        `help:"Key file of the certificate." placeholder:"FILE"`
	TrustedProxy []string      `help:"Networks of the proxies in front, such as 10.0.0.0/8; only they are believed about a visitor's address. None: nobody is in front." placeholder:"CIDR"`
	AllowPlain   bool          `help:"Serve beyond this machine without TLS. Passwords and secret links can then be read on the way."`
	BodyLimit    int           `default:"2" help:"Most that a request may bring, in MiB."`
	RequestTime  time.Duration `default:"20s" help:"Longest that one request may take."`
	SessionTime  time.Duration `default:"168h" help:"How long a person stays signed in."`
	PostsMinute  int           `default:"60" help:"What one address may send a minute without being signed in, after a burst of as many."`
	SignInMinute int           `default:"10" help:"How often one address may try to sign in a minute, after a burst of as many."`
	DueEvery     time.Duration `default:"5s" help:"How often to look for what has become due."`
	StopTime     time.Duration `default:"15s" help:"How long requests under way may take to finish when stopping."`
}

// check refuses settings that contradict one another or would put secrets at risk.
func (c serveConfig) check(shop shopConfig) error {
	base, err := shop.base()
	if err != nil {
		return err
	}
	if _, _, err := net.SplitHostPort(c.Listen); err != nil {
		return badSetting("the address to listen on, %q, must be a host and a port, such as 127.0.0.1:8080: %v", c.Listen, err)
	}
	if _, err := c.proxies(); err != nil {
		return err
	}
	ownTLS := c.TLSCert != "" || c.TLSKey != ""
	local := isLoopback(hostOf(c.Listen))
	switch {
	case (c.TLSCert == "") != (c.TLSKey == ""):
		return badSetting("TLS needs both --tls-cert and --tls-key")
	case ownTLS && base.Scheme != "https":
		return badSetting("there is a certificate, but the base URL %s is a plain http one: links in mails would lead past it", shop.BaseURL)
	case base.Scheme == "https" && !ownTLS && len(c.TrustedProxy) == 0:
		return badSetting("the base URL is an https one, so cookies are sent over TLS alone, but neither a certificate (--tls-cert) nor a proxy that speaks TLS (--trusted-proxy) is named: nobody could sign in")
	case base.Scheme == "http" && (!isLoopback(base.Hostname()) || !local) && !c.AllowPlain:
		return badSetting("serving %s at %s without TLS lets others read passwords and secret links; use an https base URL, or say --allow-plain if you know the network", shop.BaseURL, c.Listen)
	case c.BodyLimit < 1 || c.PostsMinute < 1 || c.SignInMinute < 1:
		return badSetting("the limits on requests must be at least 1")
	case c.RequestTime <= 0 || c.SessionTime < time.Minute || c.DueEvery <= 0 || c.StopTime <= 0:
		return badSetting("the lengths of time must be more than nothing, a session's at least a minute")
	}
	return nil
}

func (c serveConfig) proxies() ([]netip.Prefix, error) {
	var nets []netip.Prefix
	for _, s := range c.TrustedProxy {
		p, err := netip.ParsePrefix(s)
		if err != nil {
			return nil, badSetting("the trusted proxy %q is not a network such as 10.0.0.0/8 or 192.0.2.7/32", s)
		}
		nets = append(nets, p)
	}
	return nets, nil
}

type serveCmd struct {
	shopConfig
	serveConfig
	mailConfig
	checkoutConfig
}

func (c *serveCmd) Run(p *program) error {
	if err := c.serveConfig.check(c.shopConfig); err != nil {
		return err
	}
	if err := c.mailConfig.check(); err != nil {
		return err
	}
	if _, _, err := c.checkoutConfig.check(c.shopConfig, p.env); err != nil {
		return err
	}
	log := c.logger(p.err)
	st, err := openStore(p.ctx, c.shopConfig, p.now, p.random, log)
	if err != nil {
		return err
	}
	defer func() {
		if err := st.Close(); err != nil {
			log.Error("closing the records", "error", err.Error())
		}
	}()
	send, err := c.sender(p.ctx, st)
	if err != nil {
		return err
	}
	provider, err := c.provider(c.shopConfig, p.env, log)
	if err != nil {
		return err
	}
	srv, err := startServer(p.ctx, c.serveConfig, st, p.now, send, log, withProvider(provider))
	if err != nil {
		return err
	}
	fmt.Fprintf(p.out, "%s is open at %s (listening on %s)\n", st.Config.Shop, st.Config.BaseURL, srv.Addr)
	log.Info("serving", "version", version(), "listen", srv.Addr, "database", st.Dialect())
	return srv.Wait(p.ctx)
}

// A server is the pages, the API and the loops of one shop, running.
type server struct {
	Addr string // where it really listens: the port is known even if 0 was asked for

	http   *http.Server
	failed chan error
	stop   context.CancelFunc
	loops  sync.WaitGroup
	grace  time.Duration
	log    *slog.Logger
}

// startServer begins to serve a shop whose records are open: pages and API on
// c.Listen, what falls due by the store's clock, and notices through send (nil: they
// wait). wall is the clock that sessions live by; in a demo the store has another. End
// it with Wait or Stop; the records are the caller's to close.
func startServer(ctx context.Context, c serveConfig, st *store.Store, wall func() time.Time, send sender, log *slog.Logger, more ...option) (*server, error) {
	e, err := newWeb(c, st, wall, log, more...)
	if err != nil {
		return nil, err
	}
	var cert *tls.Config
	if c.TLSCert != "" {
		pair, err := tls.LoadX509KeyPair(c.TLSCert, c.TLSKey)
		if err != nil {
			return nil, badSetting("the certificate cannot be used: %v", err)
		}
		cert = &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12}
	}
	listener, err := new(net.ListenConfig).Listen(ctx, "tcp", c.Listen)
	if err != nil {
		return nil, badSetting("cannot listen on %s: %v", c.Listen, err)
	}
	s := &server{Addr: listener.Addr().String(), failed: make(chan error, 1), grace: c.StopTime, log: log}
	s.http = &http.Server{
		Handler: e, TLSConfig: cert,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       c.RequestTime,
		WriteTimeout:      c.RequestTime + 10*time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    16 << 10,
		ErrorLog:          slog.NewLogLogger(log.Handler(), slog.LevelDebug),
	}
	// The loops end when Stop says so, after the last request: not with ctx, which ends
	// when the program is only asked to stop.
	running, stop := context.WithCancel(context.WithoutCancel(ctx))
	s.stop = stop
	s.loops.Go(func() { runDue(running, st, c.DueEvery) })
	if desk := optionsOf(more).desk(st, log); desk != nil {
		s.loops.Go(func() { workDesk(running, desk, c.DueEvery) })
	}
	if send != nil {
		s.loops.Go(func() {
			mail.Loop(running, func(ctx context.Context) error {
				_, err := st.Deliver(ctx, send)
				return err
			}, st.Wake(), c.DueEvery, func(err error) { st.LogFault("sending", err) })
		})
	}
	s.loops.Go(func() {
		var err error
		if cert != nil {
			err = s.http.ServeTLS(listener, "", "")
		} else {
			err = s.http.Serve(listener)
		}
		if !errors.Is(err, http.ErrServerClosed) {
			s.failed <- err
		}
	})
	return s, nil
}

// Wait serves until ctx ends, then stops. It returns early if serving fails.
func (s *server) Wait(ctx context.Context) error {
	select {
	case <-ctx.Done():
		s.log.Info("stopping: finishing what is under way")
		return s.Stop()
	case err := <-s.failed:
		return errors.Join(err, s.Stop())
	}
}

// Stop takes no more requests, finishes those under way, then ends the loops.
func (s *server) Stop() error {
	ctx, cancel := context.WithTimeout(context.Background(), s.grace)
	defer cancel()
	err := s.http.Shutdown(ctx)
	if err != nil {
		err = errors.Join(fmt.Errorf("some requests were cut off: %w", err), s.http.Close())
	}
	s.stop()
	s.loops.Wait()
	return err
}

type migrateCmd struct {
	shopConfig
}

func (c *migrateCmd) Run(p *program) error {
	st, err := openStore(p.ctx, c.shopConfig, p.now, p.random, c.logger(p.err))
	if err != nil {
		return err
	}
	v, err := st.Version(p.ctx)
	if err == nil {
		fmt.Fprintf(p.out, "The database is at version %d.\n", v)
	}
	return errors.Join(err, st.Close())
}

// readable refuses a secret file that others can read.
func readable(what, name string) ([]byte, error) {
	info, err := os.Stat(name)
	if err != nil {
		return nil, badSetting("the %s cannot be read: %v", what, err)
	}
	if info.Mode().Perm()&0o077 != 0 {
		return nil, badSetting("others can read the %s %s (%s); take that away with: chmod 600 %s", what, name, info.Mode().Perm(), name)
	}
	b, err := os.ReadFile(name)
	if err != nil {
		return nil, badSetting("the %s cannot be read: %v", what, err)
	}
	return b, nil
}
