package main

import (
	"bytes"
	"context"
	"io"
	"net"
	"os"
	"os/signal"
	"sync"
	"syscall"

	"github.com/rogpeppe/go-internal/testscript"
)

func (b *bench) hangup(_ *testscript.TestScript, args []string) error {
	p, err := b.running(args[0])
	if err != nil {
		return err
	}
	return p.cmd.Process.Signal(syscall.SIGHUP)
}

// supervisor listens at a socket as a service manager does, a line for each state.
func (b *bench) supervisor(ts *testscript.TestScript, args []string) error {
	// Where the tests run under nohup, what they start would not hear the hang-up either.
	signal.Notify(make(chan os.Signal, 1), syscall.SIGHUP)
	conn, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: ts.MkAbs(args[1]), Net: "unixgram"})
	if err != nil {
		return err
	}
	p := &program{ended: make(chan struct{}), said: map[string]*bytes.Buffer{"stdout": {}, "stderr": {}}, seen: map[string]int{}}
	p.changed = sync.NewCond(&p.mu)
	b.programs[args[0]] = p
	context.AfterFunc(b.ctx, func() { _ = conn.Close() })
	go func() {
		told := make([]byte, 4096)
		n, err := conn.Read(told)
		for ; err == nil; n, err = conn.Read(told) {
			_, _ = io.WriteString(stream{p, "stdout"}, string(told[:n])+"\n") // a buffer takes all
		}
		p.finish(err)
	}()
	return nil
}
