package client

import (
	"context"

	"pressrig/panel/api"
)

// Proofs lists the proof steps of the rig and how they stand.
func (c *Client) Proofs(ctx context.Context) (api.Proofs, error) {
	return get[api.Proofs](ctx, c, api.PathProofs)
}

// ProofNow is the proof under way.
func (c *Client) ProofNow(ctx context.Context) (api.ProofProgress, error) {
	return get[api.ProofProgress](ctx, c, api.PathProofNow)
}

// ProofBegin begins the proof of a function and returns its number.
func (c *Client) ProofBegin(ctx context.Context, function, by string) (uint32, error) {
	var out api.ProofBegun
	err := c.post(ctx, api.PathProofBegin, api.ProofBegin{Function: function, By: by}, &out)
	return out.Proof, err
}

// ProofArm arms the recipe that the proof wants; START at the rig starts it.
func (c *Client) ProofArm(ctx context.Context, id api.ProofID) (api.Started, error) {
	var out api.Started
	err := c.post(ctx, api.PathProofArm, id, &out)
	return out, err
}

// ProofAnswer answers the question of a stage.
func (c *Client) ProofAnswer(ctx context.Context, a api.ProofAnswer) error {
	return c.post(ctx, api.PathProofAnswer, a, &api.Done{})
}

// ProofCancel gives the proof up; nothing is stored.
func (c *Client) ProofCancel(ctx context.Context, id api.ProofID) error {
	return c.post(ctx, api.PathProofCancel, id, &api.Done{})
}

// ProofSign stores what the proof found.
func (c *Client) ProofSign(ctx context.Context, s api.ProofSign) (api.ProofRecord, error) {
	var out api.ProofRecord
	err := c.post(ctx, api.PathProofSign, s, &out)
	return out, err
}
