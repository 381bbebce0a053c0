package mail

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"os"
	"strings"
	"sync/atomic"
	"time"

	gomail "github.com/go-mail/mail"
)

// Security says how the way to the mail server is kept private.
type Security string

// The ways. StartTLS is what an empty setting means: a server that does not offer it
// gets no message. Plain is for a server on the same machine.
const (
	StartTLS Security = "starttls"
	TLS      Security = "tls" // from the first byte, usually port 465
	Plain    Security = "plain"
)

// SMTP hands messages to a mail server.
type SMTP struct {
	Host         string
	Port         int
	User         string         // "" to send without signing in
	PasswordFile string         // read anew for every message, so that it can be changed while running
	Security     Security       // "" is StartTLS
	Hello        string         // the name we give ourselves; "" is localhost
	Timeout      time.Duration  // most that one message may take, dialling included; 0 is 30 seconds
	Roots        *x509.CertPool // certificates to trust; nil is the system's
}

// Check refuses settings that contradict each other.
func (s SMTP) Check() error {
	switch s.Security {
	case "", StartTLS, TLS, Plain:
	default:
		return fmt.Errorf("mail: security is %q; write starttls, tls or plain", s.Security)
	}
	switch {
	case s.Host == "" || s.Port <= 0 || s.Port > 65535:
		return errors.New("mail: the mail server needs a host and a port")
	case (s.User == "") != (s.PasswordFile == ""):
		return errors.New("mail: a user needs a password file, and a password file a user")
	case badLine(s.Host + s.User + s.Hello):
		return errors.New("mail: a line break in the mail server's settings")
	}
	return nil
}

// The library reads the server's greeting before it sets a deadline, and a server that
// takes the call and says nothing would keep it for ever. Every connection therefore
// ends by itself when its time is over. Set once, before anything is sent.
func init() {
	gomail.NetDialTimeout = func(network, addr string, d time.Duration) (net.Conn, error) {
		c, err := net.DialTimeout(network, addr, d)
		if err != nil {
			return nil, err
		}
		b := &bounded{Conn: c}
		b.timer = time.AfterFunc(d, func() {
			b.over.Store(true)
			c.Close()
		})
		return b, nil
	}
}

// bounded is a connection that closes when its time is over.
type bounded struct {
	net.Conn
	timer *time.Timer
	over  atomic.Bool
}

var errSlow = errors.New("the mail server did not answer in time")

func (b *bounded) Read(p []byte) (int, error)  { n, err := b.Conn.Read(p); return n, b.why(err) }
func (b *bounded) Write(p []byte) (int, error) { n, err := b.Conn.Write(p); return n, b.why(err) }

func (b *bounded) why(err error) error {
	if err != nil && b.over.Load() {
		return errSlow
	}
	return err
}

func (b *bounded) Close() error {
	b.timer.Stop()
	return b.Conn.Close()
}

// Send hands the message over. ctx bounds the time and is looked at before the call and
// before the message itself; once that is on its way it is finished or runs out of
// time, since stopping half-way would leave nobody knowing whether it arrived.
func (s SMTP) Send(ctx context.Context, m Message) error {
	if err := s.Check(); err != nil {
		return err
	}
	b, err := m.Bytes()
	if err != nil {
		return err
	}
	d, err := s.dialer(ctx)
	if err != nil {
		return err
	}
	server, err := d.Dial()
	if err != nil {
		return s.named("call", err)
	}
	if err := ctx.Err(); err != nil {
		server.Close()
		return err
	}
	err = server.Send(m.From.Address, []string{m.To.Address}, bytes.NewReader(b))
	// The server has said yes or no to the message: how the goodbye goes changes nothing.
	_ = server.Close()
	if err != nil {
		return s.named("message", err)
	}
	return nil
}

func (s SMTP) named(step string, err error) error {
	return fmt.Errorf("mail server %s:%d, %s: %w", s.Host, s.Port, step, err)
}

func (s SMTP) dialer(ctx context.Context) (*gomail.Dialer, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	left := s.Timeout
	if left <= 0 {
		left = 30 * time.Second
	}
	if end, ok := ctx.Deadline(); ok {
		left = min(left, time.Until(end))
	}
	if left <= 0 {
		return nil, context.DeadlineExceeded
	}
	password := ""
	if s.PasswordFile != "" {
		b, err := os.ReadFile(s.PasswordFile)
		if err != nil {
			return nil, fmt.Errorf("mail: password: %w", err)
		}
		password = strings.TrimRight(string(b), "\r\n")
	}
	d := gomail.NewDialer(s.Host, s.Port, s.User, password)
	d.Timeout, d.RetryFailure, d.LocalName = left, false, s.Hello
	d.TLSConfig = &tls.Config{ServerName: s.Host, MinVersion: tls.VersionTLS12, RootCAs: s.Roots}
	d.SSL = s.Security == TLS
	switch s.Security {
	case Plain:
		d.StartTLSPolicy = gomail.NoStartTLS
	default:
		d.StartTLSPolicy = gomail.MandatoryStartTLS
	}
	return d, nil
}
