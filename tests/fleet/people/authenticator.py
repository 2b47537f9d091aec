"""A device that keeps passkeys, as a browser has one: it makes keys and signs with them."""

from __future__ import annotations

import hashlib
import json
import uuid
from typing import Any

from cbor2 import dumps
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from webauthn import base64url_to_bytes
from webauthn.helpers import bytes_to_base64url

from fleet.people.passkeys import Site, add_passkey, options_to_add

HERE = Site("localhost", "http://localhost")
PRESENT, SURE, WITH_KEY = 0x01, 0x04, 0x40


class Device:
    """One passkey of one person. is_sure: it makes sure that it is they."""

    def __init__(self, origin: str = "http://localhost", *, is_sure: bool = True) -> None:
        self.origin = origin
        self.is_sure = is_sure
        self.count = 0
        self.key = ec.generate_private_key(ec.SECP256R1())
        self.id = hashlib.sha256(str(self.key.private_numbers().private_value).encode()).digest()

    def make(self, options: str) -> str:
        """What a browser answers that was asked to make a passkey."""
        asked = json.loads(options)
        numbers = self.key.public_key().public_numbers()
        x, y = (each.to_bytes(32, "big") for each in (numbers.x, numbers.y))
        key = dumps({1: 2, 3: -7, -1: 1, -2: x, -3: y})
        about = bytes(16) + len(self.id).to_bytes(2, "big") + self.id + key
        data = self._data(asked["rp"]["id"], WITH_KEY) + about
        stated = dumps({"fmt": "none", "attStmt": {}, "authData": data})
        client = self._client("webauthn.create", asked["challenge"])
        return self._answer(clientDataJSON=client, attestationObject=stated)

    def use(self, options: str, *, host: str = "") -> str:
        """What it answers that is to sign somebody in. host: for which it signs instead."""
        asked = json.loads(options)
        self.count += 1
        data = self._data(host or asked["rpId"], 0)
        client = self._client("webauthn.get", asked["challenge"])
        signed = data + hashlib.sha256(client).digest()
        signature = self.key.sign(signed, ec.ECDSA(SHA256()))
        return self._answer(clientDataJSON=client, authenticatorData=data, signature=signature)

    def _data(self, host: str, flags: int) -> bytes:
        said = PRESENT | flags | (SURE if self.is_sure else 0)
        return (
            hashlib.sha256(host.encode()).digest() + bytes([said]) + self.count.to_bytes(4, "big")
        )

    def _client(self, kind: str, challenge: str) -> bytes:
        told: dict[str, Any] = {"type": kind, "challenge": challenge, "origin": self.origin}
        assert len(base64url_to_bytes(challenge)) >= 16
        return json.dumps(told).encode()

    def _answer(self, **response: bytes) -> str:
        name = bytes_to_base64url(self.id)
        told = {each: bytes_to_base64url(value) for each, value in response.items()}
        return json.dumps({"id": name, "rawId": name, "type": "public-key", "response": told})


def given(user: Any, device: Device | None = None) -> Device:
    """Put a passkey of a person on record, and return the device that keeps it."""
    device = device or Device()
    challenge = b"c" * 32
    add_passkey(
        submission_id=uuid.uuid4(),
        user=user,
        name="my phone",
        answer=device.make(options_to_add(HERE, user, challenge)),
        challenge=challenge,
        site=HERE,
    )
    return device
