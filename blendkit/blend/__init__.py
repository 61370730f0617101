"""The maker's blend: from ratio and strength to whole drops in a bottle."""
