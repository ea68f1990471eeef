/* A library without the entry. */
int platen_no_entry(void);
int platen_no_entry(void)
{
    return 0;
}
