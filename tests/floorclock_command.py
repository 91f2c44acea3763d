"""`python -m tests.floorclock_command ...`: the command as it is installed, on a machine without a sound device."""

from __future__ import annotations

import miniaudio


def no_device(device: miniaudio.PlaybackDevice, *arguments: object, **options: object) -> None:
    """Opening a device fails, as the library leaves it then."""
    device.callback_generator, device.running, device._device = None, False, None
    raise miniaudio.MiniaudioError("no sound in tests")


if __name__ == "__main__":
    from floorclock.cli.app import main

    miniaudio.PlaybackDevice.__init__ = no_device
    main()
