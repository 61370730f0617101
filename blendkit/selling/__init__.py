"""What a seller keeps: batch record, product file, price, and who got which bottle."""
