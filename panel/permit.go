package panel

import (
	"context"
	"fmt"
	"net"
)

// Permit is what a caller may do: two permissions, and either may stand alone.
type Permit uint8

// The two permissions.
const (
	MayRead    Permit = 1 << 0 // status, recipes, records
	MayCommand Permit = 1 << 1 // arm, commands, answers, acknowledgements
)

// Peer is who is at the other end of the socket, as the kernel tells it.
type Peer struct {
	Known    bool // false: the system does not tell; then the socket's mode decides alone
	UID, GID int
}

// user names the peer as it is recorded, "" for one that is not known.
func (p Peer) user() string {
	if !p.Known {
		return ""
	}
	return fmt.Sprintf("uid %d", p.UID)
}

// whoOf is who asks in a request: the typed name, and the kernel's word.
func whoOf(ctx context.Context, by string) Who { return Who{by, peerOf(ctx).user()} }

// OwnerWrites lets the daemon's own user and root do all, and whoever else the
// socket's mode lets in read.
func OwnerWrites(owner int) func(Peer) Permit {
	return func(p Peer) Permit {
		if !p.Known || p.UID == owner || p.UID == 0 {
			return MayRead | MayCommand
		}
		return MayRead
	}
}

// AllWrite lets everybody do all whom the socket's mode lets in: for a
// workshop where the socket's group is that of the operators.
func AllWrite(Peer) Permit { return MayRead | MayCommand }

type peerKey struct{}

// withPeer stores who is at the other end of c with the connection.
func withPeer(ctx context.Context, c net.Conn) context.Context {
	if l, ok := c.(*limitedConn); ok {
		c = l.Conn
	}
	return context.WithValue(ctx, peerKey{}, peerAt(c))
}

func peerOf(ctx context.Context) Peer {
	peer, _ := ctx.Value(peerKey{}).(Peer)
	return peer
}
