package telemetry

import (
	"context"
	"crypto/tls"
	"net"
)

// handshake proves the broker's certificate before a byte of MQTT, and so the
// password, is sent.
func handshake(ctx context.Context, conn net.Conn, config *tls.Config) (net.Conn, error) {
	c := tls.Client(conn, config)
	if err := c.HandshakeContext(ctx); err != nil {
		conn.Close()
		return nil, err
	}
	return c, nil
}
