"""Where lessons and takes come from: files, devices, ports. Whatever can go wrong out there ends as `Unusable`."""
