package panel

import (
	"net"

	"golang.org/x/sys/unix"
)

// peerAt asks the kernel who connected.
func peerAt(c net.Conn) Peer {
	u, ok := c.(*net.UnixConn)
	if !ok {
		return Peer{}
	}
	raw, err := u.SyscallConn()
	if err != nil {
		return Peer{}
	}
	var cred *unix.Ucred
	var credErr error
	err = raw.Control(func(fd uintptr) {
		cred, credErr = unix.GetsockoptUcred(int(fd), unix.SOL_SOCKET, unix.SO_PEERCRED)
	})
	if err != nil || credErr != nil {
		return Peer{}
	}
	return Peer{Known: true, UID: int(cred.Uid), GID: int(cred.Gid)}
}
